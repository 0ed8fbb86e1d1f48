import { simulateSession } from '#signal/simulator/session'
import type { Episode, SessionScript } from '#signal/simulator/script'
import type { Trace } from '#signal/trace/trace'

/** A seeded session of about the given length at 100 Hz, three axes, with a hold every `everyS` seconds (> 18). */
export function benchTrace(minutes: number, everyS = 30, seed = 'bench'): Trace {
  const episodes: Episode[] = [{ kind: 'quiet-stand', durationS: 12 }]
  for (let s = 12; s < minutes * 60; s += everyS) {
    episodes.push(
      { kind: 'step-up', durationS: 2 },
      { kind: 'hold', durationS: 4, support: 'hands-on', surface: 'foam pad', swayMs2: 0.1 },
      { kind: 'hold', durationS: 10, support: 'hands-off', surface: 'foam pad', swayMs2: 0.1 },
      { kind: 'step-down', durationS: 2 },
      { kind: 'rest', durationS: everyS - 18 },
    )
  }
  const script: SessionScript = {
    seed,
    rateHz: 100,
    dog: {
      weightKg: 27,
      withersM: 0.68,
      floorSwayMs2: 0.04,
      unstableFactor: 2.5,
      mlShare: 0.4,
      tremor: { frequencyHz: 8, rmsMs2: 0.05, when: 'standing' },
      weakness: { per10S: 0.1, perRepetition: 0 },
      handSupportFactor: 0.5,
    },
    mount: { rotation: { rollDeg: 4, pitchDeg: -6, yawDeg: 3 } },
    sensor: { noiseMs2: 0.02, biasMs2: [0, 0, 0], scaleError: [0, 0, 0], stepMs2: 0.0048, gyroscope: false },
    clock: { ppm: 0, jitterS: 0 },
    episodes,
    overlays: [],
    marks: 'exact',
  }
  return simulateSession(script).trace
}

/** A long trace made of a short one laid end to end, for measuring how cost grows. */
export function repeated(trace: Trace, times: number): Trace {
  const n = trace.t.length
  const repeat = (x: Float64Array) => {
    const out = new Float64Array(n * times)
    for (let i = 0; i < times; i++) out.set(x, i * n)
    return out
  }
  const { x, y, z } = trace.acc
  return {
    ...trace,
    t: Float64Array.from({ length: n * times }, (_, i) => i / trace.rateHz),
    acc: { x: repeat(x), y: repeat(y), z: repeat(z) },
    marks: [],
  }
}
