import { parentPort } from 'node:worker_threads'
import { gridRateHz } from '#signal/clock/grid-rate'
import type { AnalysisInput } from '#signal/report'
import { formatEdf } from '#signal/trace/edf-write'
import { formatTraceCsv } from '#signal/trace/format'
import { parseColumns } from '#signal/trace/parse'
import { uniformStretches } from '#signal/trace/resample'
import { samplesCsv } from '../export/samples-csv.ts'
import { analysed } from './analysed.ts'
import type { AnalysisJob, EdfJob, FileJob, JobResults, WorkerFailure, WorkerReply } from './jobs.ts'
import { readTrace } from './read-trace.ts'

if (!parentPort) throw new Error('worker.ts runs as a worker thread only')
const port = parentPort

port.on('message', (job: AnalysisJob) => {
  let reply: WorkerReply
  try {
    reply = { ok: true, result: done(job) }
  } catch (error) {
    reply = { ok: false, error: failureOf(error) }
  }
  port.postMessage(reply, reply.ok ? buffersOf(reply.result) : [])
})

function done(job: AnalysisJob): JobResults[keyof JobResults] {
  if (job.kind === 'csv') return { csv: formatTraceCsv(job.trace) }
  if (job.kind === 'edf') return { edf: edfOf(job) }
  if (job.kind === 'samples-csv') return { csv: samplesCsv(job.block) }
  if (job.kind === 'trace') return { analysis: analysed(job) }
  const input = read(job)
  return { input, analysis: analysed({ input, mount: job.mount }) }
}

function edfOf({ trace, stampResolutionS, clock }: EdfJob): Uint8Array {
  const { marks, startedAtUs } = trace
  const uniform = uniformStretches(trace, { rateHz: gridRateHz({ clock }), stampResolutionS })
  return formatEdf({ ...uniform, marks, startedAtUs })
}

function read(job: FileJob): AnalysisInput {
  const { rateHz, unit, columns, startedAtUs, file } = job
  const parsed = readTrace(job.bytes, {
    ...(rateHz !== undefined && { rateHz }),
    ...(unit !== undefined && { unit }),
    ...(columns !== undefined && { columns: parseColumns(columns) }),
  })
  const trace = startedAtUs === undefined ? parsed.trace : { ...parsed.trace, startedAtUs }
  const { stampResolutionS, duplicates, unusedSamples, notes } = parsed
  return { trace, unit: parsed.unit, stampResolutionS, duplicates, unusedSamples, notes, file }
}

/** The buffers of samples and files, handed over instead of copied. */
function buffersOf(result: JobResults[keyof JobResults]): ArrayBuffer[] {
  if ('edf' in result) return [result.edf.buffer as ArrayBuffer]
  if (!('input' in result)) return []
  const { input } = result
  const { t, acc, gyr } = input.trace
  const columns = [t, acc.x, acc.y, acc.z, ...(gyr ? [gyr.x, gyr.y, gyr.z] : [])]
  return [...new Set(columns.map((column) => column.buffer as ArrayBuffer))]
}

function failureOf(error: unknown): WorkerFailure {
  const { name, message, stack, code, line, column, value, remedy } = error as WorkerFailure
  return { name, message, stack, code, line, column, value, remedy }
}
