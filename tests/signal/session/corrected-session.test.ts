import { describe, expect, it } from 'vitest'
import { analyseTrace } from '#signal/report'
import type { AnalyseOptions } from '#signal/report'
import { DEFAULT_HOLD_SETTINGS } from '#signal/hold/settings'
import type { HoldReport } from '#signal/report-types'
import type { HoldCorrection } from '#signal/session/hold-edits'
import { simulateSession } from '#signal/simulator/session'
import type { Trace } from '#signal/trace/trace'
import { padHold, scene } from '../simulator/scenes.ts'

const { trace } = simulateSession(
  scene([
    { kind: 'quiet-stand', durationS: 12 },
    { kind: 'rest', durationS: 8 },
    ...Array.from({ length: 3 }, () => [
      { kind: 'step-up' as const, durationS: 2 },
      padHold(5, 'hands-on'),
      padHold(12),
      { kind: 'step-down' as const, durationS: 1.5 },
      { kind: 'rest' as const, durationS: 9 },
    ]).flat(),
  ]),
)
const report = (options: AnalyseOptions = {}, of: Trace = trace) =>
  analyseTrace({ trace: of, unit: 'm/s2' }, { mount: 'identity', ...options })
const set = (fromS: number, toS: number): HoldCorrection => ({ kind: 'set', fromS, toS, reason: null })
const leaveOut = (fromS: number, toS: number): HoldCorrection => ({
  kind: 'leave out',
  fromS,
  toS,
  reason: 'somebody called',
})
const plain = report()
const exercise = plain.holds.filter(({ role }) => role === 'exercise')
const withoutFlag = ({ setBy: _set, ...hold }: HoldReport) => hold

describe('a session with corrected holds', () => {
  it('has four holds to begin with: the quiet stand and three of the exercise', () => {
    expect(plain.holds.map(({ role }) => role)).toEqual(['quiet stand', 'exercise', 'exercise', 'exercise'])
    expect(plain.session.leftOutHolds).toBeUndefined()
  })

  it('is as before but for the flag when every hold is set to its own bounds', () => {
    const same = report({ holdEdits: plain.holds.map(({ fromS, toS }) => set(fromS, toS)) })
    expect(same.holds.every(({ setBy }) => setBy === 'person')).toBe(true)
    expect({ ...same, holds: same.holds.map(withoutFlag) }).toEqual(plain)
  })

  it('measures a set hold as the interval it is', () => {
    const [fromS, toS] = [exercise[0].fromS + 6, exercise[0].toS - 2]
    const corrected = report({ holdEdits: [set(fromS, toS)] })
    const alone = report({ interval: [fromS, toS] })
    const hold = corrected.holds[1]
    expect(hold).toMatchObject({ fromS, toS, setBy: 'person', endedBy: 'interval', role: 'exercise' })
    expect(hold.sway).toEqual(alone.holds[0].sway)
    expect(hold.tremor).toEqual(alone.holds[0].tremor)
  })

  it('lets hold times, repetitions, comparison and fatigue follow, by the closed form of the change', () => {
    // The last 4 s are hands-off: cutting them takes exactly 4 s from every sum.
    const { fromS, toS } = exercise[2]
    const { session } = report({ holdEdits: [set(fromS, toS - 4)] })
    expect(session.handsOffHoldS).toBeCloseTo(plain.session.handsOffHoldS! - 4, 9)
    expect(session.repetitions[2].holdS).toBeCloseTo(plain.session.repetitions[2].holdS - 4, 9)
    expect(session.supportShare).toBeCloseTo(
      1 - session.handsOffHoldS! / session.repetitions.reduce((sum, r) => sum + r.holdS, 0),
      2,
    )
    // 12 s hold two pieces of 5 s, 8 s one.
    expect(session.comparable.pieces).toBe(plain.session.comparable.pieces - 1)
    expect(session.fatigue.lastOverFirst).not.toBe(plain.session.fatigue.lastOverFirst)
    expect(session.repetitions.slice(0, 2)).toEqual(plain.session.repetitions.slice(0, 2))
  })

  it('lets the warnings of the plan follow', () => {
    const { fromS } = exercise[1]
    const { session } = report({ holdEdits: [set(fromS, fromS + 3)] })
    expect(plain.session.planWarnings).toEqual([])
    expect(session.planWarnings.join(' ')).toMatch(/the best hold was 3\.0 s/)
  })

  it('keeps a hold set inside the marked quiet stand as a quiet stand', () => {
    const { holds, session } = report({ holdEdits: [set(2, 9)] })
    expect(holds[0]).toMatchObject({ fromS: 2, toS: 9, role: 'quiet stand' })
    expect(session).toEqual(plain.session)
  })

  it('counts a left-out hold for nothing, and names it', () => {
    const [{ fromS, toS }] = exercise
    const { holds, session } = report({ holdEdits: [leaveOut(fromS, toS)] })
    expect(holds).toHaveLength(3)
    expect(session.leftOutHolds).toEqual([{ fromS, toS, reason: 'somebody called' }])
    const goneS = plain.session.repetitions[0].holdS
    const sum = (of: typeof session) => of.repetitions.reduce((total, r) => total + r.holdS, 0)
    expect(sum(session)).toBeCloseTo(sum(plain.session) - goneS, 9)
  })

  it('with every hold left out is as a recording in which none was found', () => {
    const { holds, session } = report({ holdEdits: [leaveOut(0, trace.t.at(-1)! + 1)] })
    // A detector that no motion is small enough for finds none.
    const none = report({
      settings: { ...DEFAULT_HOLD_SETTINGS, slowRatio: 1e-6, slowFloorMs2: 1e-6, slowCeilingMs2: 1e-6 },
    })
    expect(none.holds).toEqual([])
    expect(holds).toEqual([])
    const { leftOutHolds, ...rest } = session
    expect(leftOutHolds).toHaveLength(4)
    expect(rest).toEqual(none.session)
  })

  it('does not turn an opening stand into exercise when the exercise is left out', () => {
    const bare: Trace = { ...trace, marks: [] }
    const before = report({}, bare)
    expect(before.holds[0].role).toBe('quiet stand')
    const { holds, session } = report({ holdEdits: [leaveOut(before.holds[0].toS, 1000)] }, bare)
    expect(holds.map(({ role }) => role)).toEqual(['quiet stand'])
    expect(session.bestHoldS).toBeNull()
  })

  it('says why a hold set in a gap, or after the end, was not used, and measures the rest', () => {
    const { fromS, toS } = exercise[1]
    const inGap = (t: number) => t >= fromS - 3 && t < toS + 3
    const keep = [...trace.t.keys()].filter((i) => !inGap(trace.t[i]))
    const cut = (column: Float64Array) => Float64Array.from(keep, (i) => column[i])
    const gappy: Trace = {
      ...trace,
      t: cut(trace.t),
      acc: { x: cut(trace.acc.x), y: cut(trace.acc.y), z: cut(trace.acc.z) },
    }
    const edits = [set(fromS, toS), set(900, 910)]
    const { session, holds } = report({ holdEdits: edits }, gappy)
    expect(session.unusedCorrections).toEqual([
      { kind: 'set', fromS, toS, why: 'no signal was recorded in it' },
      { kind: 'set', fromS: 900, toS: 910, why: expect.stringMatching(/^it must lie within the recording/) },
    ])
    expect(holds).toEqual(report({}, gappy).holds)
  })

  it('measures a hold set over a gap on both sides of it', () => {
    const { fromS, toS } = exercise[1]
    const keep = [...trace.t.keys()].filter((i) => !(trace.t[i] >= fromS + 8 && trace.t[i] < fromS + 9))
    const cut = (column: Float64Array) => Float64Array.from(keep, (i) => column[i])
    const gappy: Trace = {
      ...trace,
      t: cut(trace.t),
      acc: { x: cut(trace.acc.x), y: cut(trace.acc.y), z: cut(trace.acc.z) },
    }
    const { holds } = report({ holdEdits: [set(fromS, toS)] }, gappy)
    const hold = holds.find((one) => one.setBy === 'person')!
    expect(hold.durationS).toBeCloseTo(toS - fromS, 9)
    expect(hold.sway.rms.horizontal).toBeGreaterThan(0)
    expect(hold.tremor.bands[0].reason).toMatch(/tremor needs 95 %/)
  })

  it('refuses corrections beside an interval, which is the one hold by definition', () => {
    expect(() => report({ interval: [3, 8], holdEdits: [set(3, 8)] })).toThrow(/either it or holdEdits/)
  })
})
