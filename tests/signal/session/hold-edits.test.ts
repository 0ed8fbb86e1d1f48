import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { FoundHold } from '#signal/session/find-holds'
import { correctHolds } from '#signal/session/hold-edits'
import type { CorrectionRoom, HoldCorrection } from '#signal/session/hold-edits'

const found = (...spans: [number, number][]): FoundHold[] =>
  spans.map(([fromS, toS]) => ({ fromS, toS, endedBy: 'step' }))
const set = (fromS: number, toS: number): HoldCorrection => ({ kind: 'set', fromS, toS, reason: null })
const leaveOut = (fromS: number, toS: number, reason: string | null = null): HoldCorrection => ({
  kind: 'leave out',
  fromS,
  toS,
  reason,
})
const ROOM: CorrectionRoom = { endS: 60, obstacle: () => null }
const DETECTED = found([5, 10], [12, 20], [30, 42])
const spansOf = (holds: readonly { fromS: number; toS: number }[]) => holds.map((h) => [h.fromS, h.toS])

describe('correctHolds', () => {
  it('gives the detected holds when nothing is corrected', () => {
    expect(correctHolds(DETECTED, [], ROOM)).toEqual({ holds: DETECTED, leftOut: [], unused: [] })
  })

  it('puts a set hold in place of every hold it overlaps, and leaves those it only touches', () => {
    const { holds } = correctHolds(DETECTED, [set(10, 13)], ROOM)
    expect(holds).toEqual([
      DETECTED[0],
      { fromS: 10, toS: 13, endedBy: 'interval', setBy: 'person' },
      DETECTED[2],
    ])
    expect(spansOf(correctHolds(DETECTED, [set(6, 31)], ROOM).holds)).toEqual([[6, 31]])
  })

  it('adds a set hold where none was found', () => {
    expect(spansOf(correctHolds(DETECTED, [set(45, 50)], ROOM).holds)).toEqual([
      [5, 10],
      [12, 20],
      [30, 42],
      [45, 50],
    ])
  })

  it('keeps what ended a hold that was set to end where it was found to end', () => {
    const [, moved] = correctHolds(DETECTED, [set(13, 20.04)], ROOM).holds
    expect(moved).toMatchObject({ endedBy: 'step', setBy: 'person' })
    expect(correctHolds(DETECTED, [set(12, 19.9)], ROOM).holds[1].endedBy).toBe('interval')
  })

  it('leaves out the holds whose middle lies inside, set ones too, with the reason', () => {
    const { holds, leftOut } = correctHolds(
      DETECTED,
      [leaveOut(7.5, 16, 'held the collar'), set(45, 50), leaveOut(47, 48)],
      ROOM,
    )
    // Middles 7.5 (in), 16 (the end is outside), 36 and 47.5 (in).
    expect(spansOf(holds)).toEqual([
      [12, 20],
      [30, 42],
    ])
    expect(leftOut).toEqual([
      { fromS: 5, toS: 10, reason: 'held the collar' },
      { fromS: 45, toS: 50, reason: null },
    ])
  })

  it('names a correction that does not fit and changes nothing by it', () => {
    const room: CorrectionRoom = { endS: 60, obstacle: ({ fromS }) => (fromS === 50 ? 'no signal' : null) }
    const wrong = [set(50, 52), set(58, 70), set(9, 9), set(-1, 4), set(30, 33), set(32, 35), leaveOut(0, 1)]
    const { holds, unused } = correctHolds(DETECTED, wrong, room)
    expect(holds).toEqual(DETECTED)
    expect(unused.map(({ kind, fromS, why }) => [kind, fromS, why])).toEqual([
      ['set', -1, 'it must lie within the recording, 0 to 60.0 s, and end after it begins'],
      ['leave out', 0, 'no hold has its middle in it'],
      ['set', 9, 'it must lie within the recording, 0 to 60.0 s, and end after it begins'],
      ['set', 30, 'it overlaps another hold that was set'],
      ['set', 32, 'it overlaps another hold that was set'],
      ['set', 50, 'no signal'],
      ['set', 58, 'it must lie within the recording, 0 to 60.0 s, and end after it begins'],
    ])
  })

  it('clips a hold set to a recording that was measured a little shorter', () => {
    expect(spansOf(correctHolds([], [set(50, 60.04)], ROOM).holds)).toEqual([[50, 60]])
  })

  it('survives numbers that are none', () => {
    const { holds, unused } = correctHolds(DETECTED, [set(NaN, 4), set(3, NaN), leaveOut(NaN, 9)], ROOM)
    expect(holds).toEqual(DETECTED)
    expect(unused).toHaveLength(3)
  })
})

// 1/8 s steps are exact in binary: equal numbers stay equal.
const time = fc.integer({ min: 0, max: 480 }).map((n) => n / 8)
const span = fc
  .tuple(time, fc.integer({ min: 1, max: 120 }))
  .map(([fromS, length]) => ({ fromS, toS: fromS + length / 8 }))
const correction: fc.Arbitrary<HoldCorrection> = fc.record({
  kind: fc.constantFrom('set' as const, 'leave out' as const),
  reason: fc.constantFrom(null, 'slipped', 'helped'),
  span,
}).map(({ kind, reason, span }) => ({ kind, reason, ...span })) // prettier-ignore
const detected = fc
  .array(fc.tuple(fc.integer({ min: 1, max: 40 }), fc.integer({ min: 8, max: 80 })), { maxLength: 8 })
  .map((lengths) => {
    let atS = 0
    return lengths.flatMap(([pause, length]) => {
      const fromS = atS + pause / 8
      atS = fromS + length / 8
      return atS <= 60 ? [{ fromS, toS: atS, endedBy: 'step' as const }] : []
    })
  })
const SEED = { seed: 20260105, numRuns: 500 }

describe('any corrections of any holds', () => {
  it('never give overlapping holds, keep the order of time and stay in the recording', () => {
    fc.assert(
      fc.property(detected, fc.array(correction, { maxLength: 8 }), (holds, edits) => {
        const after = correctHolds(holds, edits, ROOM).holds
        after.forEach((hold, i) => {
          expect(hold.fromS >= 0 && hold.toS <= 60 && hold.toS > hold.fromS).toBe(true)
          if (i > 0) expect(hold.fromS).toBeGreaterThanOrEqual(after[i - 1].toS)
        })
      }),
      SEED,
    )
  })

  it('mean the same in any order, and said twice', () => {
    fc.assert(
      fc.property(
        detected,
        fc
          .array(correction, { maxLength: 6 })
          .chain((edits) =>
            fc.tuple(fc.constant(edits), fc.shuffledSubarray(edits, { minLength: edits.length })),
          ),
        (holds, [edits, shuffled]) => {
          const once = correctHolds(holds, edits, ROOM)
          expect(correctHolds(holds, shuffled, ROOM)).toEqual(once)
          expect(correctHolds(holds, [...shuffled, ...edits], ROOM)).toEqual(once)
        },
      ),
      SEED,
    )
  })

  it('account for every hold: kept, replaced by a set one, or left out', () => {
    fc.assert(
      fc.property(detected, fc.array(correction, { maxLength: 8 }), (holds, edits) => {
        const { holds: kept, leftOut } = correctHolds(holds, edits, ROOM)
        const all = [...kept, ...leftOut]
        for (const hold of holds) {
          const is = all.some((one) => one.fromS === hold.fromS && one.toS === hold.toS)
          const replaced = all.some((one) => one.fromS < hold.toS && one.toS > hold.fromS)
          expect(is || replaced).toBe(true)
        }
        const asked = edits.filter(({ kind }) => kind === 'leave out')
        for (const hold of kept) {
          const middle = (hold.fromS + hold.toS) / 2
          expect(asked.some(({ fromS, toS }) => middle >= fromS && middle < toS)).toBe(false)
        }
      }),
      SEED,
    )
  })

  it('give back the detected holds with the flag when each is set to its own bounds', () => {
    fc.assert(
      fc.property(detected, (holds) => {
        const edits = holds.map(({ fromS, toS }) => set(fromS, toS))
        expect(correctHolds(holds, edits, ROOM)).toEqual({
          holds: holds.map((hold) => ({ ...hold, setBy: 'person' })),
          leftOut: [],
          unused: [],
        })
      }),
      SEED,
    )
  })
})
