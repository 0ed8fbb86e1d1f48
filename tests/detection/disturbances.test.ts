import { describe, expect, it } from 'vitest'
import { randomSession } from '#signal/simulator/population'
import { disturbed } from './disturbances.ts'
import type { Disturbance } from './disturbances.ts'
import { overlapS } from './match.ts'
import { detect } from './population.ts'

/** Long stands of sessions without a slip that are found whole when nothing disturbs them. */
const sessions = Array.from({ length: 40 }, (_, i) => randomSession(`push/${i}`).session)
  .filter(({ truth }) => !truth.slip)
  .map(({ trace, truth }) => {
    const { found } = detect(trace)
    const holds = truth.stableIntervals.filter((hold) => {
      const lengthS = hold.toS - hold.fromS
      const isWhole = (f: { fromS: number; toS: number }) =>
        overlapS(f, hold) > 0.9 * lengthS && f.toS - f.fromS < 1.1 * lengthS
      return lengthS >= 6 && found.some(isWhole)
    })
    return { trace, truth, holds }
  })

/** Share of those holds split by one disturbance in their middle, among dogs swaying less than `swayBelow`. */
function splitShare(part: Pick<Disturbance, 'lengthS' | 'peakMs2' | 'shape'>, swayBelow: number): number {
  let split = 0
  let all = 0
  for (const { trace, truth, holds } of sessions) {
    const chosen = holds.filter(({ swayRmsHorizontal }) => swayRmsHorizontal < swayBelow)
    if (chosen.length === 0) continue
    const disturbances = chosen.map((hold, i) => ({
      ...part,
      atS: (hold.fromS + hold.toS - part.lengthS) / 2,
      headingDeg: 77 * i,
    }))
    const { found } = detect(disturbed(trace, truth.mountRotation, disturbances))
    for (const { atS } of disturbances) {
      all++
      const middle = atS + part.lengthS / 2
      if (!found.some(({ fromS, toS }) => fromS < middle - 0.8 && toS > middle + 0.8)) split++
    }
  }
  expect(all).toBeGreaterThan(40)
  return split / all
}

describe('a push in the middle of a hold', () => {
  it.each([
    ['one-sided', 0.4],
    ['one-sided', 0.7],
    ['biphasic', 0.4],
    ['biphasic', 0.7],
  ] as const)('of 2 m/s², %s over %f s, splits the hold of any dog', (shape, lengthS) => {
    // Dogs swaying by 0.4 m/s² and more come near such a push by themselves: a few stay whole.
    expect(splitShare({ shape, lengthS, peakMs2: 2 }, 0.2)).toBeGreaterThanOrEqual(0.98)
    expect(splitShare({ shape, lengthS, peakMs2: 2 }, 10)).toBeGreaterThanOrEqual(0.95)
  })

  it.each([
    ['one-sided', 0.4],
    ['one-sided', 0.7],
    ['biphasic', 0.55],
  ] as const)(
    'of 1.2 m/s², %s over %f s, splits the hold of a dog swaying below 0.1 m/s²',
    (shape, lengthS) => {
      expect(splitShare({ shape, lengthS, peakMs2: 1.2 }, 0.1)).toBeGreaterThanOrEqual(0.95)
    },
  )

  it.each([0.4, 0.7])('of 0.05 m/s² over %f s, as of a hand, never does', (lengthS) => {
    expect(splitShare({ shape: 'one-sided', lengthS, peakMs2: 0.05 }, 10)).toBe(0)
    expect(splitShare({ shape: 'biphasic', lengthS, peakMs2: 0.05 }, 10)).toBe(0)
  })
})
