import { recordedSession, simulateDelivery } from './delivery.ts'
import type { DeliveryOptions } from './delivery.ts'
import { totalDurationS } from './exercise.ts'
import { createRandom } from './random.ts'
import type { Random } from './random.ts'
import { noiseRms } from './sensor.ts'
import { simulateSession } from './session.ts'
import type { Episode, EulerDeg, Overlay, SessionScript, Support, Surface } from './script.ts'
import type { SimulatedSession } from './truth.ts'

export interface RandomSession {
  readonly script: SessionScript
  readonly delivery: DeliveryOptions
  /** As recorded: lost packets are missing. */
  readonly session: SimulatedSession
}

/** A session drawn from a wide population of dogs, mounts, sensors, links and courses of events. */
export function randomSession(seed: number | string): RandomSession {
  const script = randomScript(seed)
  const random = createRandom(`population/${seed}/link`)
  const delivery: DeliveryOptions = {
    seed: `population/${seed}/radio`,
    samplesPerPacket: random.pick([1, 4, 6, 10, 16]),
    connectionIntervalS: random.pick([0.0075, 0.015, 0.03, 0.045]),
    lossRate: random.uniform() < 0.6 ? 0 : random.uniform(0.001, 0.02),
    stalls: { perMinute: random.uniform(0, 2), meanS: random.uniform(0.1, 0.8) },
  }
  const whole = simulateSession(script)
  return { script, delivery, session: recordedSession(whole, simulateDelivery(whole, delivery)) }
}

/** The script of such a session, for callers that change it before playing it. */
export function randomScript(seed: number | string): SessionScript {
  const random = createRandom(`population/${seed}`)
  const rateHz = random.pick([25, 50, 52, 60, 100, 100, 104, 128, 200])
  // Log-uniform, so that steady dogs are as common as wobbly ones.
  const surfaceSwayMs2 = 0.04 * Math.exp(random.uniform(0, Math.log(0.35 / 0.04)))
  const unstableFactor = random.uniform(1.3, 4)
  const floorSwayMs2 = Math.min(0.12, Math.max(0.02, surfaceSwayMs2 / unstableFactor))
  const episodes = randomEpisodes(surfaceSwayMs2, random)
  const durationS = totalDurationS(episodes)
  return {
    seed: `population/${seed}/motion`,
    rateHz,
    dog: {
      weightKg: random.uniform(4, 60),
      withersM: random.uniform(0.28, 0.8),
      floorSwayMs2,
      unstableFactor,
      mlShare: random.uniform(0.25, 0.7),
      tremor:
        random.uniform() < 0.4
          ? {
              frequencyHz: random.uniform(4, Math.min(15, 0.35 * rateHz)),
              rmsMs2: random.uniform(0.02, 0.15),
              when: 'standing',
            }
          : null,
      weakness: { per10S: random.uniform(0, 0.3), perRepetition: random.uniform(0, 0.15) },
      handSupportFactor: random.uniform(0.3, 0.7),
    },
    mount: {
      rotation: randomTurn(random),
      ...(random.uniform() < 0.1 && {
        slip: {
          atS: random.uniform(0.3, 0.8) * durationS,
          turn: { rollDeg: random.uniform(-25, 25), pitchDeg: random.uniform(-10, 10), yawDeg: 0 },
        },
      }),
    },
    sensor: {
      noiseMs2: noiseRms(random.uniform(70, 400), rateHz),
      biasMs2: [0.15 * random.normal(), 0.15 * random.normal(), 0.2 * random.normal()],
      scaleError: [0.01 * random.normal(), 0.01 * random.normal(), 0.01 * random.normal()],
      stepMs2: random.pick([0, 0.0006, 0.0048, 0.0192]),
      gyroscope: random.uniform() < 0.4,
    },
    clock: {
      ppm: random.uniform(-80, 80),
      jitterS: random.uniform() < 0.7 ? 0 : random.uniform(0, 0.1) / rateHz,
    },
    episodes,
    overlays: randomOverlays(durationS, random),
    marks: { lagS: random.uniform(0, 0.4), sdS: random.uniform(0, 0.15) },
  }
}

function randomEpisodes(swayMs2: number, random: Random): readonly Episode[] {
  const chance = (probability: number): boolean => random.uniform() < probability
  const surface = random.pick<Surface>(['foam pad', 'rocker board'])
  const hold = (support: Support, durationS: number): Episode => ({
    kind: 'hold',
    durationS,
    support,
    surface,
    swayMs2,
  })
  const step = (): Episode => ({
    kind: 'step',
    durationS: random.uniform(0.25, 0.8),
    peakMs2: random.uniform(0.8, 4),
  })
  const episodes: Episode[] = [{ kind: 'quiet-stand', durationS: random.uniform(10, 14) }]
  if (chance(0.7)) episodes.push({ kind: 'walk', durationS: random.uniform(4, 7) })
  if (chance(0.25)) episodes.push({ kind: 'handling', durationS: random.uniform(3, 8) })
  const repetitions = Math.floor(random.uniform(2, 5))
  for (let count = 0; count < repetitions; count++) {
    episodes.push({ kind: 'rest', durationS: random.uniform(6, 20) })
    if (chance(0.15))
      episodes.push({ kind: 'sit', durationS: random.uniform(4, 12), pitchDeg: random.uniform(20, 50) })
    episodes.push({ kind: 'step-up', durationS: random.uniform(1, 3) })
    if (chance(0.8)) episodes.push(hold('hands-on', random.uniform(2, 6)))
    episodes.push(hold('hands-off', random.uniform(3, 14)))
    while (chance(0.4))
      episodes.push(step(), hold(chance(0.8) ? 'hands-off' : 'hands-on', random.uniform(1.5, 8)))
    if (chance(0.12))
      episodes.push({ kind: 'sit', durationS: random.uniform(3.5, 8), pitchDeg: random.uniform(20, 50) })
    episodes.push({ kind: chance(0.25) ? 'wobble-off' : 'step-down', durationS: random.uniform(1, 2.2) })
  }
  episodes.push({ kind: 'rest', durationS: random.uniform(3, 8) })
  return episodes
}

function randomOverlays(durationS: number, random: Random): readonly Overlay[] {
  const overlays: Overlay[] = []
  if (random.uniform() < 0.25) {
    const fromS = random.uniform(0.4, 0.8) * durationS
    overlays.push({
      kind: 'pant',
      fromS,
      toS: durationS,
      frequencyHz: random.uniform(3.5, 6.5),
      rmsMs2: random.uniform(0.05, 0.3),
    })
  }
  if (random.uniform() < 0.25) {
    const fromS = random.uniform(0.2, 0.8) * durationS
    overlays.push({
      kind: 'tail-wag',
      fromS,
      toS: fromS + random.uniform(3, 15),
      frequencyHz: random.uniform(2, 5),
      rmsMs2: random.uniform(0.05, 0.3),
    })
  }
  return overlays
}

/** A sensor put on roughly straight, turned by quarter turns, or any way at all. */
function randomTurn(random: Random): EulerDeg {
  const slack = { rollDeg: 5 * random.normal(), pitchDeg: 8 * random.normal(), yawDeg: 4 * random.normal() }
  const draw = random.uniform()
  if (draw < 0.4) return slack
  if (draw < 0.7)
    return {
      ...slack,
      rollDeg: slack.rollDeg + random.pick([0, 90, 180, -90]),
      yawDeg: slack.yawDeg + random.pick([0, 90, 180, -90]),
    }
  return {
    rollDeg: random.uniform(-180, 180),
    pitchDeg: random.uniform(-85, 85),
    yawDeg: random.uniform(-180, 180),
  }
}
