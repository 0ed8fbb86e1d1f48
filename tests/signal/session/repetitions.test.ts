import { describe, expect, it } from 'vitest'
import { fatigueOver } from '#signal/fatigue/fatigue'
import { groupRepetitions } from '#signal/session/repetitions'
import type { Mark } from '#signal/trace/trace'
import { madeHold } from './made-holds.ts'

const start = (atS: number): Mark => ({ atS, kind: 'repetition-start' })
const end = (atS: number): Mark => ({ atS, kind: 'repetition-end' })

describe('groupRepetitions', () => {
  it('follows the marks; a hold belongs where its middle lies', () => {
    const holds = [madeHold(8, 14), madeHold(16, 19), madeHold(29, 40), madeHold(50, 52)]
    const { basis, repetitions } = groupRepetitions(holds, [start(10), end(20), start(30), end(45)], 60)
    expect(basis).toBe('marks')
    expect(repetitions).toMatchObject([
      { fromS: 10, toS: 20, holdS: 9, handsOffS: null, swayRms: expect.closeTo(0.1, 12) },
      { fromS: 30, toS: 45, holdS: 11, handsOffS: null, swayRms: expect.closeTo(0.1, 12) },
    ])
  })

  it('ends a repetition at the next start or the end of the recording when its end is missing', () => {
    const { repetitions } = groupRepetitions([], [start(10), start(30)], 60)
    expect(repetitions.map(({ fromS, toS }) => [fromS, toS])).toEqual([
      [10, 30],
      [30, 60],
    ])
    expect(repetitions[0]).toMatchObject({ holdS: 0, swayRms: null, handsOffS: 0 })
    expect(groupRepetitions([], [end(10)], 60)).toEqual({ repetitions: [], basis: 'pauses between holds' })
  })

  it('without marks begins a new repetition after a pause of 5 s', () => {
    const holds = [madeHold(0, 10), madeHold(14.9, 20), madeHold(25, 30)]
    const { basis, repetitions } = groupRepetitions(holds, [], 40)
    expect(basis).toBe('pauses between holds')
    expect(repetitions.map(({ fromS, toS }) => [fromS, toS])).toEqual([
      [0, 20],
      [25, 30],
    ])
  })

  it('weighs sway by hold time as power, and adds hands-off time only where all of it is known', () => {
    const holds = [
      madeHold(0, 6, { swayMs2: 0.1, handsOffS: 2 }),
      madeHold(6.5, 8.5, { swayMs2: 0.3, handsOffS: 1 }),
      madeHold(20, 25, { handsOffS: null }),
    ]
    const { repetitions } = groupRepetitions(holds, [], 30)
    expect(repetitions[0].swayRms).toBeCloseTo(Math.sqrt((0.1 ** 2 * 6 + 0.3 ** 2 * 2) / 8), 12)
    expect(repetitions[0].handsOffS).toBe(3)
    expect(repetitions[1].handsOffS).toBeNull()
  })
})

describe('fatigueOver', () => {
  const repetitions = (...sway: (number | null)[]) =>
    sway.map((swayRms, i) => ({ fromS: 20 * i, toS: 20 * i + 10, holdS: 8, handsOffS: null, swayRms }))

  it('is the slope per repetition and last over first', () => {
    const fatigue = fatigueOver(repetitions(0.1, 0.12, 0.14, 0.16))
    expect(fatigue.slopePerRepetition).toBeCloseTo(0.02, 12)
    expect(fatigue.lastOverFirst).toBeCloseTo(1.6, 12)
  })

  it('is not pulled by one wild repetition: Theil–Sen takes the median slope', () => {
    // Slopes of 0.1, 0.1, 0.9, 0.1, 0.1 over 1..5: pairwise median worked by hand: 0.
    expect(fatigueOver(repetitions(0.1, 0.1, 0.9, 0.1, 0.1)).slopePerRepetition).toBe(0)
  })

  it('says why when fewer than two repetitions have measured sway', () => {
    expect(fatigueOver(repetitions(0.1, null))).toEqual({
      slopePerRepetition: null,
      lastOverFirst: null,
      reason: 'needs at least two repetitions with measured sway, found 1',
    })
  })
})
