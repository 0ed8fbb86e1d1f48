import { beforeAll, describe, expect, it } from 'vitest'
import type { HoldReport, Report } from '#signal/report-types'
import type { TimeSpan } from '#signal/simulator/truth'
import { shapeProblems } from './report-shape.ts'
import { run } from './run.ts'
import type { Outcome } from './run.ts'
import { SAMPLES, samplePath, sampleTruth } from './samples.ts'

function overlapS(a: TimeSpan, b: TimeSpan): number {
  return Math.max(0, Math.min(a.toS, b.toS) - Math.max(a.fromS, b.fromS))
}

/** The hold that shares most with a span. */
function holdAt(holds: readonly HoldReport[], span: TimeSpan): HoldReport {
  return holds.reduce((best, hold) => (overlapS(hold, span) > overlapS(best, span) ? hold : best))
}

describe.each(SAMPLES)('analyse %s', (name) => {
  const truth = sampleTruth(name)
  let json: Outcome
  let report: Report
  beforeAll(async () => {
    json = await run('analyse', samplePath(name), '--json')
    report = JSON.parse(json.out) as Report
  })

  it('prints one JSON object of the documented shape and nothing on standard error', () => {
    expect(json.code).toBe(0)
    expect(json.err).toBe('')
    expect(shapeProblems(report)).toEqual([])
    expect(report.trace.file).toBe(name)
  })

  it('prints a table with one row per hold', async () => {
    const { code, out, err } = await run('analyse', samplePath(name))
    expect(code).toBe(0)
    expect(err).toBe('')
    expect(out).toContain(name)
    expect(out).not.toMatch(/NaN|Infinity|undefined|null/)
    const rows = out.split('\n').filter((line) => /^ *\d+:\d\d\.\d  /.test(line))
    expect(rows).toHaveLength(report.holds.length)
  })

  it('finds every stand of the simulator, and no hold but stands and lying down', () => {
    for (const stand of truth.stableIntervals) {
      const hold = holdAt(report.holds, stand)
      const unionS = Math.max(hold.toS, stand.toS) - Math.min(hold.fromS, stand.fromS)
      // 0.9: ends are searched to 0.1 s, and the truth ends where a transient is at 5 % of its peak.
      expect(overlapS(hold, stand) / unionS, `${stand.fromS} to ${stand.toS} s`).toBeGreaterThan(0.9)
    }
    // One trunk sensor cannot tell lying from standing; the definitions say so.
    const allowed = [...truth.stableIntervals, ...truth.lies]
    for (const hold of report.holds) {
      const sharedS = Math.max(...allowed.map((span) => overlapS(hold, span)))
      expect(sharedS, `hold from ${hold.fromS} s`).toBeGreaterThan(0.8 * hold.durationS)
    }
  })

  it('measures the sway of every stand within 25 % and half of them within 5 %', () => {
    // 25 %: ends differ by up to 0.5 s, where the sway of the transient begins; noise of the sensor is in the report only.
    const errors = truth.stableIntervals.map(
      (stand) => holdAt(report.holds, stand).sway.rms.horizontal / stand.swayRmsHorizontal - 1,
    )
    for (const error of errors) expect(Math.abs(error)).toBeLessThan(0.25)
    const sorted = errors.map(Math.abs).sort((a, b) => a - b)
    expect(sorted[(sorted.length - 1) >> 1]).toBeLessThan(0.05)
  })

  it('reads gravity, rate, length and lost samples as simulated', () => {
    // 1 %: the simulated sensors have a gain error of up to some tenths of a per cent.
    expect(Math.abs(report.mount.gravity / 9.80665 - 1)).toBeLessThan(0.01)
    expect(Math.abs(report.quality.effectiveRateHz / truth.rateHz - 1)).toBeLessThan(0.002)
    const last = truth.stableIntervals.at(-1)!
    expect(report.trace.durationS).toBeGreaterThanOrEqual(last.toS - 0.1)
    expect(report.quality.gaps.length > 0).toBe(truth.lostSamples > 0)
  })

  it('finds a tremor within 0.3 Hz, and none where there is none', () => {
    for (const hold of report.holds) {
      const shaken = truth.tremor.filter((span) => overlapS(span, hold) > 0.2 * hold.durationS)
      const distinct = hold.tremor.bands.filter(
        ({ name, distinct, lookalike }) => name !== 'sway' && distinct && lookalike === null,
      )
      if (shaken.length > 0) {
        expect(distinct).toHaveLength(1)
        expect(Math.abs(distinct[0].peakHz! - shaken[0].frequencyHz)).toBeLessThan(0.3)
      } else {
        expect(distinct).toEqual([])
      }
    }
  })

  const [wag] = truth.tremor.length === 0 ? truth.tailWags : []
  if (wag) {
    it('flags the ringing of a tail wag', () => {
      const band = holdAt(report.holds, wag).tremor.bands[0]
      expect(band.lookalike).toBe('tail wag')
      expect(Math.abs(band.peakHz! - 2 * wag.frequencyHz)).toBeLessThan(0.3)
    })
  }

  if (truth.pantings.length > 0) {
    it('flags panting as a look-alike within 0.3 Hz', () => {
      for (const panting of truth.pantings) {
        const holds = report.holds.filter((hold) => overlapS(hold, panting) > 0.8 * hold.durationS)
        expect(holds.length).toBeGreaterThan(0)
        for (const { tremor } of holds) {
          expect(tremor.bands[0].lookalike).toBe('panting')
          expect(Math.abs(tremor.bands[0].peakHz! - panting.frequencyHz)).toBeLessThan(0.3)
        }
      }
    })
  }
})
