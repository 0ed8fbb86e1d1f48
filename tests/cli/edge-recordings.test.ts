import { describe, expect, it } from 'vitest'
import { analyse } from '#signal/report'
import type { AnalyseOptions } from '#signal/report'
import type { Report } from '#signal/report-types'
import type { Mark } from '#signal/trace/trace'
import { parseTrace } from '#signal/trace/parse'
import { shapeProblems } from './report-shape.ts'
import { timed } from '../helpers/processor-time.ts'

type Axis = (t: number, i: number) => number
interface Recording {
  readonly rateHz: number
  readonly seconds: number
  readonly x?: Axis
  readonly y?: Axis
  readonly z?: Axis
  readonly time?: (t: number, i: number) => number
  readonly marks?: readonly Mark[]
}

/** Sway of two sines along each horizontal axis, RMS √(0.05² + 0.02² + 0.06² + 0.03²)/√2. */
const swayX: Axis = (t) => 0.05 * Math.sin(2 * Math.PI * 0.5 * t) + 0.02 * Math.sin(2 * Math.PI * 1.3 * t + 1)
const swayY: Axis = (t) => 0.06 * Math.sin(2 * Math.PI * 0.7 * t + 2) + 0.03 * Math.sin(2 * Math.PI * 1.1 * t)
const SWAY_RMS = Math.sqrt((0.05 ** 2 + 0.02 ** 2 + 0.06 ** 2 + 0.03 ** 2) / 2)
const gravity: Axis = () => 9.80665
const nothing: Axis = () => 0

function text({
  rateHz,
  seconds,
  x = swayX,
  y = swayY,
  z = gravity,
  time = (t) => t,
  marks = [],
}: Recording) {
  const clock = Array.from({ length: Math.round(rateHz * seconds) }, (_, i) => i / rateHz)
  const acc = { x: clock.map(x), y: clock.map(y), z: clock.map(z) }
  return JSON.stringify({ unit: 'm/s2', t: clock.map(time), acc, marks })
}

/** The report, checked for its documented shape and finite numbers. */
function reportOf(recording: Recording, options: AnalyseOptions = {}): Report {
  const { report } = analyse(parseTrace(text(recording)), options)
  expect(shapeProblems(report)).toEqual([])
  return report
}

const TEN_SECONDS = { mount: 'identity', interval: [10, 20] } as const
const standing = { rateHz: 100, seconds: 30 } as const

describe('recordings at the edge of what is sensible', () => {
  it('a sensor that reports no change measures no sway, and the quality says why', () => {
    const { quality, holds } = reportOf({ ...standing, x: nothing, y: nothing }, TEN_SECONDS)
    expect(quality.verdict).toBe('poor')
    expect(quality.reasons.join()).toMatch(/reported no change at all for 30 s/)
    expect(holds[0].sway).toMatchObject({ path: 0, jerk: 0, rmsInterval: [0, 0] })
    expect(holds[0].sway.rms.horizontal).toBe(0)
    expect(holds[0].sway.spectral.totalPower).toEqual({ ml: null, cc: null })
    expect(holds[0].tremor.bands.map(({ distinct }) => distinct)).toEqual([false, false, false])
  })

  it('motion along one axis alone gives an ellipse without area and no spectrum of the other axis', () => {
    const { sway } = reportOf({ ...standing, y: nothing }, TEN_SECONDS).holds[0]
    expect(sway.rms.ml).toBe(0)
    expect(sway.ellipse).toMatchObject({ area: 0, minor: 0, angleDeg: 90 })
    expect(sway.spectral.totalPower.ml).toBeNull()
    expect(sway.spectral.totalPower.cc).toBeGreaterThan(0)
  })

  it.each([10, 25, 50, 60, 104, 500, 1600])('at %i Hz the sway is the same within 1 %', (rateHz) => {
    // 1 %: interpolation of the slowest rates, and the low-pass at 1.3 Hz (0.06 % off).
    const { holds } = reportOf({ rateHz, seconds: 30 }, TEN_SECONDS)
    expect(Math.abs(holds[0].sway.rms.horizontal / SWAY_RMS - 1)).toBeLessThan(0.01)
  })

  it.each([10, 25])('at %i Hz there is no tremor figure but a reason', (rateHz) => {
    const { holds } = reportOf({ rateHz, seconds: 30 }, TEN_SECONDS)
    expect(holds[0].tremor.bands[0]).toMatchObject({ power: null, rms: null })
    expect(holds[0].tremor.bands[0].reason).toMatch(new RegExp(`sensor rate ${rateHz} Hz is below the 30 Hz`))
  })

  it('ten samples, and one second, are measured without crashing and hold no hold', () => {
    expect(reportOf({ rateHz: 9, seconds: 10 / 9 + 0.01 }).holds).toEqual([])
    expect(reportOf({ rateHz: 100, seconds: 1.02 }).holds).toEqual([])
    const [hold] = reportOf({ rateHz: 100, seconds: 1.02 }, { interval: [0, 0.03] }).holds
    expect(hold.sway.ellipse.n).toBe(3)
    expect(hold.tremor.bands[0].reason).toMatch(/only 3 samples/)
  })

  it('nothing but gaps is refused', () => {
    const eightByEight = (_: number, i: number) => Math.floor(i / 8) * 0.3 + (i % 8) / 100
    expect(() => reportOf({ ...standing, time: eightByEight })).toThrow(/no gap-free stretch of 0\.1 s/)
  })

  it('half a second of signal in every 0.7 s is poor, and what was left out is said', () => {
    const time = (_: number, i: number) => Math.floor(i / 50) * 0.7 + (i % 50) / 100
    const { quality, holds } = reportOf({ ...standing, time }, TEN_SECONDS)
    expect(quality.verdict).toBe('poor')
    expect(quality.gaps).toHaveLength(59)
    expect(holds[0].reason).toMatch(/s between gaps too short to measure/)
    expect(holds[0].tremor.bands[0].reason).toMatch(/7\d % of the samples arrived; tremor needs 95 %/)
  })

  it('a signal cut off at the end of the range is poor, and counted', () => {
    const clipped: Axis = (t) => Math.max(-19.6, Math.min(19.6, 25 * Math.sin(2 * Math.PI * 1.3 * t)))
    const { quality } = reportOf({ ...standing, x: clipped })
    expect(quality.verdict).toBe('poor')
    expect(quality.clippedSamples).toBeGreaterThan(1000)
  })

  it('a single sample of 1000 g makes the recording poor, and is said', () => {
    const { quality } = reportOf({ ...standing, x: (t, i) => (i === 700 ? 9806 : swayX(t, i)) })
    expect(quality.verdict).toBe('poor')
    expect(quality.reasons.join()).toMatch(/^1 sample beyond 32 times gravity/)
  })

  it('an upside-down sensor measures the same horizontal sway', () => {
    const upright = reportOf(standing, { interval: [10, 20] }).holds[0].sway
    const { holds, mount } = reportOf({ ...standing, z: () => -9.80665 }, { interval: [10, 20] })
    expect(mount.gravity).toBeCloseTo(9.80665, 3)
    expect(holds[0].sway.rms.horizontal / upright.rms.horizontal - 1).toBeCloseTo(0, 9)
    expect(holds[0].sway.path / upright.path - 1).toBeCloseTo(0, 9)
  })

  it.each<[string, number]>([
    ['a late start', 1234.5],
    ['a start before zero', -500],
    ['seconds since 1970', 1_773_508_800],
  ])('%s changes no measure', (_, startS) => {
    const plain = reportOf(standing, TEN_SECONDS).holds[0].sway
    const { holds, trace } = reportOf({ ...standing, time: (t) => t + startS }, TEN_SECONDS)
    expect(trace.durationS).toBe(30)
    expect(trace.startedAt).toBe(startS > 1e9 ? '2026-03-14T17:20:00.000Z' : null)
    // Stamps since 1970 are rounded to 0.2 µs, which is no unevenness: the samples are the same.
    expect(holds[0].sway).toEqual(plain)
  })

  it('gravity that was removed leaves a warning, not a direction', () => {
    const { quality } = reportOf({ ...standing, z: (t) => 0.01 * Math.sin(9 * t) })
    expect(quality.verdict).toBe('poor')
    expect(quality.reasons.join()).toMatch(/Gravity seems to have been removed/)
  })
})

describe('marks', () => {
  it('far outside the recording change nothing and hang nothing', () => {
    const marks: Mark[] = [
      { atS: -1e300, kind: 'quiet-stand-start' },
      { atS: 8, kind: 'quiet-stand-end' },
      { atS: -50, kind: 'support-off' },
      { atS: 1e300, kind: 'support-on' },
      { atS: 1e9, kind: 'repetition-start' },
      { atS: 2e9, kind: 'repetition-end' },
    ]
    const { mount, holds } = reportOf({ ...standing, marks })
    expect(mount.reference).toEqual({ fromS: 0, toS: 8, basis: 'quiet-stand marks' })
    for (const hold of holds) expect(hold.handsOffS).toBeCloseTo(hold.durationS, 9)
  })

  it('in any order of the file give the same report', () => {
    const marks: Mark[] = [
      { atS: 5, kind: 'support-off' },
      { atS: 15, kind: 'support-on' },
      { atS: 20, kind: 'support-off' },
      { atS: 25, kind: 'support-on' },
    ]
    const ordered = reportOf({ ...standing, marks }, { interval: [4, 28] })
    const shuffled = reportOf(
      { ...standing, marks: [2, 0, 3, 1].map((i) => marks[i]) },
      { interval: [4, 28] },
    )
    expect(ordered.holds[0].handsOffS).toBe(15)
    expect(shuffled).toEqual(ordered)
  })
})

it('an hour at 100 Hz is measured within 20 s of processor time', () => {
  // It takes about 2 s; 20 s fails what grows with the square.
  const parsed = parseTrace(text({ rateHz: 100, seconds: 3600 }))
  const {
    result: { report },
    processorMs,
  } = timed(() => analyse(parsed))
  expect(processorMs).toBeLessThan(20_000)
  expect(report.trace.durationS).toBe(3600)
  expect(report.session.planWarnings.join()).toMatch(/lasted 60:00/)
})
