import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { reportTable } from '#server/cli/report-table'
import { analyse, OptionError } from '#signal/report'
import type { AnalyseOptions } from '#signal/report'
import type { Report } from '#signal/report-types'
import { parseTrace, TraceError } from '#signal/trace/parse'
import type { ParseOptions } from '#signal/trace/parse'
import { DAMAGES } from './damage.ts'
import { shapeProblems } from './report-shape.ts'
import { SAMPLES, sampleText } from './samples.ts'
import { timed } from '../helpers/processor-time.ts'

/** A day at the highest rate would take minutes; these are at most 2 min of samples. */
const MAX_MS = 3000

const TEXTS = SAMPLES.map((name) => {
  const text = sampleText(name)
  // The first 1500 lines: long enough for holds, short enough for hundreds of runs.
  const short = name.endsWith('.json') ? text : `${text.split('\n').slice(0, 1500).join('\n')}\n`
  const separator = name.endsWith('.tsv') ? '\t' : name.startsWith('sit') ? ';' : ','
  return { name, text: short, separator }
})

const PARSE_OPTIONS: readonly ParseOptions[] = [
  {},
  {},
  { rateHz: 100 },
  { unit: 'g' },
  { unit: 'm/s2' },
  { columns: { t: 1, ax: 2, ay: 3, az: 4 } },
  { columns: { ax: 3, ay: 2, az: 4 }, rateHz: 50 },
]
const ANALYSE_OPTIONS: readonly AnalyseOptions[] = [
  {},
  {},
  { mount: 'identity' },
  { mount: 'identity', interval: [1, 6] },
  { interval: [0.5, 2.2] },
  { rateHz: 10 },
  { rateHz: 333 },
  { bands: [{ name: 'tremor', fromHz: 3, toHz: 49 }] },
]

const damagedTrace = fc.record({
  source: fc.constantFrom(...TEXTS),
  damages: fc.array(fc.constantFrom(...Object.keys(DAMAGES)), { minLength: 1, maxLength: 3 }),
  choices: fc.array(fc.double({ min: 0, max: 1, maxExcluded: true, noNaN: true }), {
    minLength: 40,
    maxLength: 40,
  }),
  parse: fc.constantFrom(...PARSE_OPTIONS),
  analyse: fc.constantFrom(...ANALYSE_OPTIONS),
})

/** The report, or null when the trace was refused as it should be. */
function reportOf(text: string, parse: ParseOptions, options: AnalyseOptions): Report | null {
  try {
    return analyse(parseTrace(text, parse), options).report
  } catch (error) {
    // An interval may no longer fit a recording that lost its end.
    if (error instanceof OptionError && options.interval) return null
    if (!(error instanceof TraceError)) throw error
    expect(error.message).not.toMatch(/\n/)
    expect(error.message.endsWith(error.remedy)).toBe(true)
    expect(error.remedy.length).toBeGreaterThan(10)
    return null
  }
}

describe('a damaged recording', () => {
  it('is refused in one line or measured in finite numbers, never anything else, and soon', () => {
    let measured = 0
    let refused = 0
    fc.assert(
      fc.property(damagedTrace, ({ source, damages, choices, parse, analyse: options }) => {
        let taken = 0
        const choose = () => choices[taken++ % choices.length]
        const text = damages.reduce((t, name) => DAMAGES[name](t, source.separator, choose), source.text)
        const { result: report, processorMs } = timed(() => reportOf(text, parse, options))
        expect(processorMs).toBeLessThan(MAX_MS)
        if (report === null) {
          refused++
          return
        }
        measured++
        // JSON turns NaN into null in silence, so the report is checked before it becomes text.
        expect(shapeProblems(report)).toEqual([])
        expect(reportTable(report)).not.toMatch(/NaN|Infinity|undefined/)
        for (const hold of report.holds) {
          expect(hold.fromS).toBeGreaterThanOrEqual(0)
          expect(hold.toS).toBeGreaterThan(hold.fromS)
          expect(hold.toS).toBeLessThanOrEqual(report.trace.durationS + 1e-6)
        }
        // A wrong unit shows as a wrong gravity: nobody may get sway from it without a word.
        const { reference, gravity } = report.mount
        if (reference !== null && Math.abs(gravity / 9.80665 - 1) > 0.2) {
          expect(report.quality.reasons.join(' ')).toMatch(/gravity/i)
        }
      }),
      { numRuns: 400, seed: 20_260_314, endOnFailure: true },
    )
    // Neither all refused nor all measured: the damages are neither too coarse nor too fine.
    expect(measured).toBeGreaterThan(60)
    expect(refused).toBeGreaterThan(60)
  }, 60_000)
})
