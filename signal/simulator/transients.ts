import { audibleSpan } from './burst.ts'
import type { Burst } from './burst.ts'
import type { Random } from './random.ts'
import type { PlacedEpisode } from './timeline.ts'
import type { TimeSpan } from './truth.ts'

const STEP_WEIGHTS = { cc: 0.7, ml: 0.8, dv: 1 }

/** The lively motion of an episode; empty for stands. Sits and lies move at both ends and are calm between. */
export function episodeBursts(
  { episode, fromS, toS }: PlacedEpisode,
  weightKg: number,
  random: Random,
): readonly Burst[] {
  const spanS = toS - fromS
  // Heavier dogs move slower; frequencies of like animals go roughly with mass to the -1/6.
  const tempo = (27 / weightKg) ** (1 / 6)
  const band = (lowHz: number, highHz: number): readonly [number, number] => [lowHz * tempo, highHz * tempo]
  const lively = (part: Partial<Burst>): Burst => ({
    fromS,
    toS,
    riseS: Math.min(0.2, 0.3 * spanS),
    fallS: Math.min(0.35, 0.5 * spanS),
    peakMs2: 2,
    bandHz: band(1.5, 9),
    weights: STEP_WEIGHTS,
    wobbleDeg: 2,
    valley: 0.35,
    ...part,
  })
  switch (episode.kind) {
    case 'quiet-stand':
    case 'hold':
      return []
    case 'step':
      return [
        lively({
          riseS: 0.3 * spanS,
          fallS: 0.6 * spanS,
          peakMs2: episode.peakMs2 ?? random.uniform(1, 3),
          bandHz: band(2.5, 10),
          wobbleDeg: random.uniform(0.5, 1.5),
          valley: 1,
        }),
      ]
    case 'step-up':
      return [lively({ peakMs2: episode.peakMs2 ?? random.uniform(2, 4.5) })]
    case 'step-down':
      return [lively({ peakMs2: episode.peakMs2 ?? random.uniform(2.5, 5) })]
    case 'wobble-off':
      // Rises over more than half: balance is lost gradually, then the dog jumps off.
      return [
        lively({ peakMs2: episode.peakMs2 ?? random.uniform(2.5, 6), riseS: 0.55 * spanS, wobbleDeg: 6 }),
      ]
    case 'walk':
      // The rhythm of the gait is added elsewhere; this is its irregular part.
      return [lively({ peakMs2: 1.2, riseS: 0.4, fallS: 0.4, bandHz: band(1, 8) })]
    case 'rest':
      return [
        lively({
          peakMs2: 2.5 * (episode.rmsMs2 ?? random.uniform(0.5, 1)),
          bandHz: band(0.8, 6),
          wobbleDeg: 4,
        }),
      ]
    case 'handling':
      return [lively({ peakMs2: 1, bandHz: band(1, 6) }), ...knocks(fromS, toS, episode.peakMs2 ?? 2, random)]
    case 'sit':
    case 'lie': {
      const downS = episode.kind === 'sit' ? 1.2 : 1.7
      const weights = { cc: 1, ml: 0.5, dv: 1 }
      return [
        lively({ toS: fromS + downS, peakMs2: random.uniform(1, 2), weights }),
        lively({ fromS: toS - downS, peakMs2: random.uniform(1, 2.2), weights }),
      ]
    }
  }
}

/** From the first to the last moment at which a burst is above 5 % of its peak; null for stands. */
export function transientSpan(bursts: readonly Burst[]): TimeSpan | null {
  if (bursts.length === 0) return null
  const spans = bursts.map(audibleSpan)
  return {
    fromS: Math.min(...spans.map((span) => span.fromS)),
    toS: Math.max(...spans.map((span) => span.toS)),
  }
}

function knocks(fromS: number, toS: number, peakMs2: number, random: Random): readonly Burst[] {
  const out: Burst[] = []
  for (let atS = fromS + 0.1; atS < toS - 0.5; atS += random.uniform(0.25, 0.9)) {
    out.push({
      fromS: atS,
      toS: atS + random.uniform(0.12, 0.3),
      riseS: 0.03,
      fallS: 0.08,
      peakMs2: peakMs2 * random.uniform(0.3, 1),
      bandHz: [4, 22],
      weights: { cc: random.uniform(0.2, 1), ml: random.uniform(0.2, 1), dv: random.uniform(0.2, 1) },
      wobbleDeg: 0,
      valley: 1,
    })
  }
  return out
}
