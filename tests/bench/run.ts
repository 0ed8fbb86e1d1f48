/**
 * `npm run bench`: speed as ratios against a reference run beside it, and growth with length.
 * Times on a shared machine vary; read the ratios. Not part of the tests.
 */
import { execFileSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parse as csvParse } from 'csv-parse/sync'
import Papa from 'papaparse'
import { LivePipeline } from '#signal/live/pipeline'
import { analyseTrace } from '#signal/report'
import type { Report } from '#signal/report-types'
import { formatTraceCsv } from '#signal/trace/format'
import { parseTrace } from '#signal/trace/parse'
import type { Trace } from '#signal/trace/trace'
import { pythonWithScipy } from '../helpers/python.mjs'
import { benchTrace, repeated } from './traces.ts'

const RUNS = 7

/** Median seconds of several runs, after one to warm up. */
function medianS(run: () => void): number {
  run()
  const times = Array.from({ length: RUNS }, () => {
    const start = performance.now()
    run()
    return (performance.now() - start) / 1000
  }).sort((a, b) => a - b)
  return times[RUNS >> 1]
}

const ms = (seconds: number) => `${(seconds * 1000).toFixed(1)} ms`

function reportAgainstScipy(trace: Trace): void {
  let report!: Report
  const ours = medianS(() => (report = analyseTrace({ trace, unit: 'm/s2' })))
  console.log(`\nWhole report, 20 min × 100 Hz × 3 axes, ${report.holds.length} holds`)
  console.log(`  Swaybook (detection, mount, quality, all measures): ${ms(ours)}`)
  const python = pythonWithScipy()
  if (!python) {
    console.log('  SciPy: not run, no python3 with scipy here')
    return
  }
  const folder = mkdtempSync(join(tmpdir(), 'swaybook-bench-'))
  const file = join(folder, 'samples.f64')
  const { x, y, z } = trace.acc
  writeFileSync(
    file,
    new Uint8Array(
      Float64Array.from({ length: 3 * x.length }, (_, i) => [x, y, z][i % 3][Math.floor(i / 3)]).buffer,
    ),
  )
  const intervals = report.holds.map(({ fromS, toS }) => `${Math.ceil(fromS * 100)},${Math.ceil(toS * 100)}`)
  const script = fileURLToPath(new URL('scipy_report.py', import.meta.url))
  const scipy = Number(execFileSync(python, [script, file, ...intervals], { encoding: 'utf8' }))
  rmSync(folder, { recursive: true })
  console.log(`  SciPy (the measures of the same holds only):        ${ms(scipy)}`)
  console.log(`  SciPy ÷ Swaybook: ${(scipy / ours).toFixed(2)}`)
}

function livePipeline(trace: Trace): void {
  const sink = { onWindow() {}, onHold() {}, onReference() {}, onStrip() {} }
  const { x, y, z } = trace.acc
  const seconds = medianS(() => {
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
  const ours = medianS(() => parseTrace(csv))
  const papa = medianS(() => Papa.parse(table, { header: true, dynamicTyping: true, skipEmptyLines: true }))
  const other = medianS(() => csvParse(table, { columns: true, cast: true }))
  console.log(`\nReading ${(csv.length / 1e6).toFixed(1)} MB of CSV (${trace.t.length} rows)`)
  console.log(`  Swaybook (columns, units, order, every value checked): ${ms(ours)}`)
  console.log(`  papaparse, typed rows: ${ms(papa)}, ratio ${(papa / ours).toFixed(2)}`)
  console.log(`  csv-parse, typed rows: ${ms(other)}, ratio ${(other / ours).toFixed(2)}`)
}

/** Each length in a process of its own, so that peak memory is its own. */
function growth(): void {
  console.log('\nGrowth with length, 100 Hz × 3 axes (memory above the trace itself, per sample)')
  console.log('  length      samples      report      µs a sample   bytes a sample')
  for (const minutes of [1, 10, 60, 600]) {
    const output = execFileSync(
      process.execPath,
      [...process.execArgv, fileURLToPath(import.meta.url), 'one', String(minutes)],
      {
        encoding: 'utf8',
      },
    )
    const { samples, seconds, bytes } = JSON.parse(output) as {
      samples: number
      seconds: number
      bytes: number
    }
    console.log(
      `  ${String(minutes).padStart(4)} min ${String(samples).padStart(12)} ${ms(seconds).padStart(12)} ` +
        `${((seconds / samples) * 1e6).toFixed(2).padStart(12)} ${(bytes / samples).toFixed(0).padStart(15)}`,
    )
  }
}

function measureOne(minutes: number): void {
  const base = benchTrace(Math.min(minutes, 10))
  const trace = minutes > 10 ? repeated(base, minutes / 10) : base
  const before = process.resourceUsage().maxRSS
  const start = performance.now()
  analyseTrace({ trace, unit: 'm/s2' })
  const seconds = (performance.now() - start) / 1000
  const bytes = Math.max(0, process.resourceUsage().maxRSS - before) * 1024
  process.stdout.write(JSON.stringify({ samples: trace.t.length, seconds, bytes }))
}

if (process.argv[2] === 'one') {
  measureOne(Number(process.argv[3]))
} else {
  const trace = benchTrace(20)
  reportAgainstScipy(trace)
  livePipeline(trace)
  csvParsers(trace)
  growth()
}
