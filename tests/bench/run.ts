/**
 * `npm run bench`: speed as ratios against a reference run beside it, and growth with length.
 * Times on a shared machine vary; read the ratios. Not part of the tests.
 *
 * The reference, `scipy_report.py`, is what one would write by hand with whole-array operations. It gets the holds
 * as given, since walking from tick to tick is no job for arrays; all else of the report it computes.
 */
import { execFileSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parse as csvParse } from 'csv-parse/sync'
import Papa from 'papaparse'
import { DEFAULT_BANDS } from '#signal/constants'
import { LivePipeline } from '#signal/live/pipeline'
import { IDENTITY } from '#signal/mount/rotation'
import { analyseTrace } from '#signal/report'
import type { HoldReport, Report } from '#signal/report-types'
import { piecesOf, toDogStretches } from '#signal/session/dog-stretch'
import { bandPower } from '#signal/spectrum/band-power'
import { swaySpectrum } from '#signal/sway/sway-spectrum'
import { swayMeasures } from '#signal/sway/sway'
import { formatTraceCsv } from '#signal/trace/format'
import { parseTrace } from '#signal/trace/parse'
import { uniformStretches } from '#signal/trace/resample'
import type { Trace } from '#signal/trace/trace'
import { tremorSpectra } from '#signal/tremor/tremor-spectra'
import { pythonWithScipy } from '../helpers/python.mjs'
import { benchTrace, repeated } from './traces.ts'

const RUNS = 11
/** Runs before those that count: a server that has been up for a while has its code compiled. */
const WARM_UP_RUNS = 5

/** Least seconds of several runs after some to warm up: what other work on the machine disturbs least (as Python's timeit). */
function leastS(run: () => void): number {
  for (let i = 0; i < WARM_UP_RUNS; i++) run()
  let least = Number.POSITIVE_INFINITY
  for (let i = 0; i < RUNS; i++) {
    const start = performance.now()
    run()
    least = Math.min(least, (performance.now() - start) / 1000)
  }
  return least
}

const ms = (seconds: number) => `${(seconds * 1000).toFixed(1)} ms`

/**
 * Both sides get the same samples and the same holds. The axes are taken as given, so that both have all measures
 * to compute, the sway spectrum too.
 */
function reportAgainstScipy(trace: Trace): void {
  let report!: Report
  const wholeS = leastS(() => (report = analyseTrace({ trace, unit: 'm/s2' }, { mount: 'identity' })))
  const { holds } = report
  const measuresS = leastS(() => measureHolds(trace, holds))
  console.log(
    `\nReport, 20 min × 100 Hz × 3 axes, ${holds.length} holds (least of ${RUNS} runs, one core each)`,
  )
  const scipy = scipyReport(trace, holds)
  if (!scipy) {
    console.log(`  Swaybook: ${ms(wholeS)}, the measures of the holds alone ${ms(measuresS)}`)
    console.log('  SciPy: not run, no python3 with scipy here')
    return
  }
  const difference = Math.max(
    ...holds.map(({ sway }, i) => Math.abs(sway.rms.horizontal / scipy.rms[i] - 1)),
    ...holds.map(({ sway }, i) => Math.abs(sway.jerk / scipy.jerk[i] - 1)),
  )
  const row = (what: string, scipyS: number, oursS: number) =>
    console.log(
      `  ${what.padEnd(60)} ${ms(scipyS).padStart(9)} ÷ ${ms(oursS).padStart(8)} = ${(scipyS / oursS).toFixed(1)}`,
    )
  console.log(`  ${''.padEnd(60)}     SciPy ÷ Swaybook`)
  row('whole report; SciPy is told where the holds are', scipy.wholeS, wholeS)
  row('low-pass, sway and tremor power of the holds alone', scipy.measuresS, measuresS)
  row('low-pass, sway and tremor power ÷ our whole report', scipy.measuresS, wholeS)
  console.log(`  RMS and jerk of the holds differ by at most ${difference.toExponential(0)} of their value`)
}

/** The measures `measures` of the SciPy script computes, no more: no detection, quality, intervals or peaks. */
function measureHolds(trace: Trace, holds: readonly HoldReport[]): void {
  const uniform = uniformStretches(trace)
  const { rateHz } = uniform
  const stretches = toDogStretches(uniform, IDENTITY)
  for (const hold of holds) {
    for (const { raw, lowPassed } of piecesOf(stretches, rateHz, hold)) {
      swayMeasures(lowPassed, rateHz)
      swaySpectrum(raw, rateHz)
      const { sum } = tremorSpectra(raw, rateHz)
      for (const { fromHz, toHz } of DEFAULT_BANDS) bandPower(sum, fromHz, toHz)
    }
  }
}

interface ScipyReport {
  readonly measuresS: number
  readonly wholeS: number
  readonly rms: readonly number[]
  readonly jerk: readonly number[]
}

/** The same in SciPy; null without a python3 that has it. */
function scipyReport(trace: Trace, holds: readonly HoldReport[]): ScipyReport | null {
  const python = pythonWithScipy()
  if (python === null) return null
  const folder = mkdtempSync(join(tmpdir(), 'swaybook-bench-'))
  const file = join(folder, 'samples.f64')
  const { x, y, z } = trace.acc
  const interleaved = Float64Array.from(
    { length: 3 * x.length },
    (_, i) => [x, y, z][i % 3][Math.floor(i / 3)],
  )
  writeFileSync(file, new Uint8Array(interleaved.buffer))
  const intervals = holds.map(({ fromS, toS }) => `${sampleAt(fromS)},${sampleAt(toS)}`)
  const script = fileURLToPath(new URL('scipy_report.py', import.meta.url))
  // One core on both sides: the linear algebra behind NumPy would start threads of its own.
  const env = { ...process.env, OPENBLAS_NUM_THREADS: '1', OMP_NUM_THREADS: '1', MKL_NUM_THREADS: '1' }
  const output = execFileSync(python, [script, file, ...intervals], { encoding: 'utf8', env })
  rmSync(folder, { recursive: true })
  return JSON.parse(output) as ScipyReport
}

/** The first sample at or after a time, as the report cuts holds. */
function sampleAt(tS: number): number {
  return Math.ceil(tS * 100 - 1e-6)
}

function livePipeline(trace: Trace): void {
  const sink = { onWindow() {}, onHold() {}, onReference() {}, onStrip() {} }
  const { x, y, z } = trace.acc
  const seconds = leastS(() => {
    const pipeline = new LivePipeline({ rateHz: 100, sink })
    for (const mark of trace.marks) pipeline.mark(mark)
    for (let i = 0; i < x.length; i += 10) {
      pipeline.push(i, { x: x.subarray(i, i + 10), y: y.subarray(i, i + 10), z: z.subarray(i, i + 10) })
    }
    pipeline.finish()
  })
  const perSample = seconds / x.length
  console.log('\nLive pipeline, packets of 10 samples')
  console.log(
    `  ${(perSample * 1e6).toFixed(2)} µs a sample: a 100 Hz stream takes ${(perSample * 100 * 100).toFixed(3)} % of a core`,
  )
}

function csvParsers(trace: Trace): void {
  const csv = formatTraceCsv({ ...trace, marks: [] }, { decimals: 5 })
  const table = csv
    .split('\n')
    .filter((line) => !line.startsWith('#'))
    .join('\n')
  const ours = leastS(() => parseTrace(csv))
  const papa = leastS(() => Papa.parse(table, { header: true, dynamicTyping: true, skipEmptyLines: true }))
  const other = leastS(() => csvParse(table, { columns: true, cast: true }))
  console.log(`\nReading ${(csv.length / 1e6).toFixed(1)} MB of CSV (${trace.t.length} rows)`)
  console.log(`  Swaybook (columns, units, order, every value checked): ${ms(ours)}`)
  console.log(`  papaparse, typed rows: ${ms(papa)}, ratio ${(papa / ours).toFixed(2)}`)
  console.log(`  csv-parse, typed rows: ${ms(other)}, ratio ${(other / ours).toFixed(2)}`)
}

/** What a trace itself takes: time and three axes in float64. */
const TRACE_BYTES_PER_SAMPLE = 32

/** Each length in a process of its own, so that peak memory is its own. */
function growth(): void {
  console.log('\nGrowth with length, 100 Hz × 3 axes, second report in a process')
  console.log(
    '  peak memory above the trace, per sample, and as a multiple of the 32 bytes of the trace itself',
  )
  console.log('  length      samples      report   µs a sample   bytes a sample   × trace')
  for (const minutes of [1, 10, 60, 600]) {
    const output = execFileSync(
      process.execPath,
      [...process.execArgv, '--expose-gc', fileURLToPath(import.meta.url), 'one', String(minutes)],
      { encoding: 'utf8' },
    )
    const one = JSON.parse(output) as { samples: number; seconds: number; bytes: number }
    const bytes = one.bytes / one.samples
    console.log(
      `  ${String(minutes).padStart(4)} min ${String(one.samples).padStart(11)} ${ms(one.seconds).padStart(11)} ` +
        `${((one.seconds / one.samples) * 1e6).toFixed(2).padStart(11)} ${bytes.toFixed(0).padStart(15)} ` +
        `${(bytes / TRACE_BYTES_PER_SAMPLE).toFixed(1).padStart(11)}`,
    )
  }
}

/** One report, after one of a minute that has the code compiled; memory is that of the whole process. */
function measureOne(minutes: number): void {
  const minute = benchTrace(1)
  analyseTrace({ trace: minute, unit: 'm/s2' })
  const trace = repeated(minute, minutes)
  globalThis.gc?.()
  const before = process.memoryUsage().rss
  const start = performance.now()
  analyseTrace({ trace, unit: 'm/s2' })
  const seconds = (performance.now() - start) / 1000
  // The peak of the process may be older than the report: never too little.
  const bytes = Math.max(0, process.resourceUsage().maxRSS * 1024 - before)
  process.stdout.write(JSON.stringify({ samples: trace.t.length, seconds, bytes }))
}

if (process.argv[2] === 'one') {
  measureOne(Number(process.argv[3]))
} else {
  console.log('Compared: the same samples, the same holds, both sides on one core, in one run.')
  console.log('Ratios above 1: Swaybook is faster. The holds are found by Swaybook only.')
  const trace = benchTrace(20)
  reportAgainstScipy(trace)
  livePipeline(trace)
  csvParsers(trace)
  growth()
}
