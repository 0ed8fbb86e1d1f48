import { parentPort } from 'node:worker_threads'
import { analyse } from '#signal/report'
import type { AnalysisInput } from '#signal/report'
import { holdDetailOf } from '#signal/review/hold-detail'
import { timelineOf } from '#signal/review/timeline'
import { parseTrace } from '#signal/trace/parse'
import type { AnalysisJob, AnalysisResult, FileJob, WorkerFailure, WorkerReply } from './jobs.ts'
import { traceText } from './trace-text.ts'

/** Buckets of the stored overview: more than a wide screen has pixels. */
const TIMELINE_BUCKETS = 2000

if (!parentPort) throw new Error('worker.ts runs as a worker thread only')
const port = parentPort

port.on('message', (job: AnalysisJob) => {
  let reply: WorkerReply
  try {
    reply = { ok: true, result: analysed(job) }
  } catch (error) {
    reply = { ok: false, error: failureOf(error) }
  }
  port.postMessage(reply, reply.ok ? samplesOf(reply.result) : [])
})

function analysed(job: AnalysisJob): AnalysisResult {
  const input = job.kind === 'file' ? read(job) : job.input
  const analysis = analyse(input, {})
  return {
    input: job.kind === 'file' ? input : null,
    analysis: {
      report: analysis.report,
      timeline: timelineOf(analysis, TIMELINE_BUCKETS),
      holds: analysis.report.holds.map((measured, index) => ({
        measured,
        detail: holdDetailOf(analysis, index),
      })),
    },
  }
}

function read(job: FileJob): AnalysisInput {
  const { rateHz, unit, columns, startedAtUs, file } = job
  const parsed = parseTrace(traceText(job.bytes), {
    ...(rateHz !== undefined && { rateHz }),
    ...(unit !== undefined && { unit }),
    ...(columns !== undefined && { columns }),
  })
  const trace = startedAtUs === undefined ? parsed.trace : { ...parsed.trace, startedAtUs }
  const { stampResolutionS, duplicates, unusedSamples } = parsed
  return { trace, unit: parsed.unit, stampResolutionS, duplicates, unusedSamples, file }
}

/** The buffers of the samples, handed over instead of copied. */
function samplesOf({ input }: AnalysisResult): ArrayBuffer[] {
  if (!input) return []
  const { t, acc, gyr } = input.trace
  const columns = [t, acc.x, acc.y, acc.z, ...(gyr ? [gyr.x, gyr.y, gyr.z] : [])]
  return [...new Set(columns.map((column) => column.buffer as ArrayBuffer))]
}

function failureOf(error: unknown): WorkerFailure {
  const { name, message, stack, code, line, column, value, remedy } = error as WorkerFailure
  return { name, message, stack, code, line, column, value, remedy }
}
