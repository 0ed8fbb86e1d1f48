import { opening, repetition, totalDurationS } from './exercise.ts'
import { DEMO_COURSE, demoWeekSwayMs2, JUNIPER } from './programme.ts'
import { createRandom } from './random.ts'
import type { Episode, SessionScript } from './script.ts'

/**
 * A session of about three minutes for the simulated harness: three repetitions on the foam pad, a
 * little less steady each time, with a stumble, panting at the end and a wagging tail. An endless
 * harness plays seed after seed.
 */
export function liveDemoScript(seed: number | string): SessionScript {
  const random = createRandom(`live demo/${seed}`)
  const episodes: Episode[] = [...opening(random)]
  const stumbleAt = Math.floor(random.uniform(2, 4))
  for (let count = 1; count <= 3; count++) {
    const plan = {
      surface: 'foam pad',
      // Where the course of the sixteen weeks has led by now.
      swayMs2: demoWeekSwayMs2(DEMO_COURSE.weeks + 1),
      steadiedS: random.uniform(3, 5),
      handsOffS: random.uniform(9, 13),
      ...(count === stumbleAt && { stepThenS: random.uniform(5, 8) }),
      restS: random.uniform(22, 28),
    } as const
    episodes.push(...repetition(plan, random))
  }
  const durationS = totalDurationS(episodes)
  return {
    seed: `live demo/${seed}/motion`,
    rateHz: 100,
    dog: {
      ...JUNIPER,
      tremor: { frequencyHz: DEMO_COURSE.tremorHz, rmsMs2: DEMO_COURSE.tremorMs2, when: 'holds' },
    },
    mount: { rotation: { rollDeg: 3, pitchDeg: -9, yawDeg: 2 } },
    sensor: { noiseMs2: 0.012, biasMs2: [0.05, -0.03, 0.08], stepMs2: 0.0048, gyroscope: true },
    episodes,
    overlays: [
      { kind: 'pant', fromS: durationS - 60, toS: durationS, frequencyHz: 5, rmsMs2: 0.15 },
      { kind: 'tail-wag', fromS: durationS - 18, toS: durationS - 12, frequencyHz: 3.1, rmsMs2: 0.25 },
    ],
  }
}
