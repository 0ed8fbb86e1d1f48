import { analyse, OptionError } from '#signal/report'
import type { AnalyseOptions } from '#signal/report'
import { parseTrace, TraceError } from '#signal/trace/parse'
import type { ParsedTrace, ParseOptions } from '#signal/trace/parse'
import { shapeProblems } from '../cli/report-shape.ts'

export type Outcome = 'refused' | 'read' | 'measured'

/** An input that ends later than this hangs: tens of ms are usual, the rest is slack for a busy machine, ms. */
const MAX_MS = 8000
/** Traces of more samples or seconds than this are read but not measured, to keep the round short. */
const MAX_MEASURED = { samples: 5000, durationS: 600 }

const GRAVITY_MS2 = 9.80665

/**
 * Reads a text and measures what was read. Whatever the text: the one error is a TraceError in one line that says
 * what to do, a trace is sound, a report holds finite numbers only, and nobody gets numbers in a wrong unit unsaid.
 *
 * @throws {Error} naming what does not hold
 */
export function judge(text: string, parse: ParseOptions = {}, options: AnalyseOptions = {}): Outcome {
  const start = performance.now()
  const outcome = readAndMeasure(text, parse, options)
  const tookMs = performance.now() - start
  require(tookMs < MAX_MS, `took ${(tookMs / 1000).toFixed(1)} s`)
  return outcome
}

function readAndMeasure(text: string, parse: ParseOptions, options: AnalyseOptions): Outcome {
  const parsed = refusedOr(() => parseTrace(text, parse))
  if (parsed === null) return 'refused'
  requireSound(parsed)
  requireKnownUnit(parsed)
  const { trace } = parsed
  if (trace.t.length > MAX_MEASURED.samples || trace.t[trace.t.length - 1] > MAX_MEASURED.durationS)
    return 'read'
  const report = refusedOr(() => analyse(parsed, options).report, options.interval !== undefined)
  if (report === null) return 'refused'
  const problems = shapeProblems(report)
  require(problems.length === 0, problems.slice(0, 5).join('; '))
  const { reference, gravity } = report.mount
  const isOff = reference !== null && Math.abs(gravity / GRAVITY_MS2 - 1) > 0.2
  require(!isOff || /gravity/i.test(report.quality.reasons.join(' ')), `gravity ${gravity} without a word`)
  return 'measured'
}

/** What a call gives, or null when it refuses as it should; every other error is passed on. */
export function refusedOr<T>(call: () => T, intervalMayNotFit = false): T | null {
  try {
    return call()
  } catch (error) {
    if (error instanceof OptionError && intervalMayNotFit) return null
    if (!(error instanceof TraceError)) throw error
    require(!error.message.includes('\n'), 'an error of several lines')
    require(error.message.endsWith(error.remedy) &&
      error.remedy.length > 10, 'an error that does not say what to do')
    return null
  }
}

function requireSound({ trace, unusedSamples, duplicates }: ParsedTrace): void {
  const { t, acc, rateHz } = trace
  require(rateHz > 0 && Number.isFinite(rateHz), `rateHz ${rateHz}`)
  require(Number.isInteger(unusedSamples) && Number.isInteger(duplicates), 'counts that are not whole')
  for (const axis of [acc.x, acc.y, acc.z]) {
    require(axis.length === t.length &&
      axis.every(Number.isFinite), 'an axis with a hole or of another length')
  }
  require(t.every((tS, i) => Number.isFinite(tS) && (i === 0 || tS > t[i - 1])), 'times that do not ascend')
  require(trace.marks.every(
    ({ atS }, i, all) => i === 0 || atS >= all[i - 1].atS,
  ), 'marks that do not ascend')
}

/** A unit found from gravity shows gravity; one that was stated may contradict it, but says so. */
function requireKnownUnit({ trace, unitBasis, notes }: ParsedTrace): void {
  const { x, y, z } = trace.acc
  const norms = x.map((value, i) => Math.hypot(value, y[i], z[i])).sort()
  const gravities = norms[norms.length >> 1] / GRAVITY_MS2
  // The middle sample of an even count is not quite the median: 1 % beyond the documented limits.
  if (unitBasis === 'median norm')
    require(Math.abs(gravities - 1) < 0.16, `unit from ${gravities} times gravity`)
  else if (!(gravities > 0.495 && gravities < 2.02)) {
    require(/gravity/i.test(notes.join(' ')), `${gravities} times gravity without a word`)
  }
}

export function require(holds: boolean, what: string): asserts holds {
  if (!holds) throw new Error(what)
}
