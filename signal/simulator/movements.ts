import { BODY_RATE_HZ } from './body-motion.ts'
import type { BodyMotion } from './body-motion.ts'
import { addBurst } from './burst.ts'
import type { Burst } from './burst.ts'
import type { Random } from './random.ts'
import { addRhythm, gaitRhythms, pantingRhythm, tailWagRhythm, tremorRhythm } from './rhythms.ts'
import type { SessionScript, SimulatedDog } from './script.ts'
import type { Stand } from './stands.ts'
import type { PlacedEpisode } from './timeline.ts'
import { episodeBursts } from './transients.ts'
import type { RhythmTruth } from './truth.ts'

/** Adds the lively motion of all episodes, gait included; returns the bursts of each episode. */
export function addTransients(
  motion: BodyMotion,
  placed: readonly PlacedEpisode[],
  dog: SimulatedDog,
  random: Random,
): (readonly Burst[])[] {
  return placed.map((place, index) => {
    const own = random.split(String(index))
    const bursts = episodeBursts(place, dog.weightKg, own)
    for (const burst of bursts) addBurst(motion, burst, own)
    if (place.episode.kind === 'walk') addWalk(motion, place, dog.withersM, own)
    return bursts
  })
}

/** Gait rhythm; speeding up and slowing down tells which end is the head. */
function addWalk(motion: BodyMotion, { fromS, toS }: PlacedEpisode, withersM: number, random: Random): void {
  // Pendulum time of the legs: step rate goes with the root of their length.
  const stepHz = random.uniform(2.6, 3.4) * Math.sqrt(0.68 / withersM)
  for (const rhythm of gaitRhythms({ fromS, toS }, stepHz)) addRhythm(motion, rhythm, random)
  const changeS = 0.8
  const speedMs = random.uniform(0.7, 1.1)
  const last = Math.min(motion.n, Math.ceil(toS * BODY_RATE_HZ))
  for (let i = Math.ceil(fromS * BODY_RATE_HZ); i < last; i++) {
    const tS = i / BODY_RATE_HZ
    const pull = bump((tS - fromS) / changeS) - bump((toS - tS) / changeS)
    motion.acceleration.cc[i] += (speedMs / changeS) * pull
  }
}

/** A raised-cosine bump over 0..1 of unit mean. */
function bump(u: number): number {
  return u > 0 && u < 1 ? 1 - Math.cos(2 * Math.PI * u) : 0
}

/** Adds the small knock of hands being placed or taken away within a stand. */
export function addTouches(motion: BodyMotion, placed: readonly PlacedEpisode[], random: Random): void {
  placed.forEach(({ episode, fromS }, index) => {
    const before = placed[index - 1]?.episode
    if (episode.kind !== 'hold' || before?.kind !== 'hold' || before.support === episode.support) return
    const touch: Burst = {
      fromS: fromS - 0.1,
      toS: fromS + 0.25,
      riseS: 0.12,
      fallS: 0.2,
      peakMs2: random.uniform(0.04, 0.1),
      bandHz: [1.5, 5],
      weights: { cc: 0.6, ml: 1, dv: 0.6 },
      wobbleDeg: 0.1,
      valley: 1,
    }
    addBurst(motion, touch, random.split(String(index)))
  })
}

/** Adds the dog's tremor where the script wants it; returns where it is. */
export function addTremor(
  motion: BodyMotion,
  script: SessionScript,
  stands: readonly Stand[],
  random: Random,
): RhythmTruth[] {
  const { tremor } = script.dog
  if (!tremor) return []
  const { frequencyHz, rmsMs2, weights, when } = tremor
  const spans =
    typeof when === 'string'
      ? stands.filter(({ parts }) => when === 'standing' || parts[0].episode.kind === 'hold')
      : when
  return spans.map(({ fromS, toS }, index) => {
    addRhythm(motion, tremorRhythm({ fromS, toS }, frequencyHz, rmsMs2, weights), random.split(String(index)))
    return { fromS, toS, frequencyHz, rmsMs2 }
  })
}

/** Adds panting and tail wag; returns where they are. */
export function addOverlays(
  motion: BodyMotion,
  script: SessionScript,
  durationS: number,
  random: Random,
): { pantings: RhythmTruth[]; tailWags: RhythmTruth[] } {
  const pantings: RhythmTruth[] = []
  const tailWags: RhythmTruth[] = []
  ;(script.overlays ?? []).forEach(({ kind, fromS, toS, frequencyHz, rmsMs2 }, index) => {
    const truth = { fromS, toS: Math.min(toS, durationS), frequencyHz, rmsMs2 }
    const rhythm = kind === 'pant' ? pantingRhythm : tailWagRhythm
    addRhythm(motion, rhythm(truth, frequencyHz, rmsMs2), random.split(String(index)))
    ;(kind === 'pant' ? pantings : tailWags).push(truth)
  })
  return { pantings, tailWags }
}
