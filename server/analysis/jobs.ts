import type { StreamClock } from '#signal/clock/stream-clock'
import type { StopLimits } from '#signal/live/stop-limits'
import type { AnalysisInput } from '#signal/report'
import type { HoldCorrection } from '#signal/session/hold-edits'
import type { Trace } from '#signal/trace/trace'
import type { AccUnit } from '#signal/trace/units'
import type { AnalysisRecord } from '../store/records.ts'
import type { SampleBlock } from '../store/time-series.ts'

/** A file to read and analyse. */
export interface FileJob {
  readonly kind: 'file'
  readonly bytes: Uint8Array
  readonly file: string
  readonly rateHz?: number
  readonly unit?: AccUnit
  /** As on the command line: `t=…,ax=…,ay=…,az=…`. */
  readonly columns?: string
  /** UTC µs of the first sample; wins over what the file says. */
  readonly startedAtUs?: number
  /** As `parseMount` reads it. */
  readonly mount: string
}

/** A trace that was read before. */
export interface TraceJob {
  readonly kind: 'trace'
  readonly input: AnalysisInput
  readonly mount: string
  /** What the plan allows; common practice without it. */
  readonly limits?: StopLimits
  /** What people say about its holds. */
  readonly holdEdits?: readonly HoldCorrection[]
}

/** A trace to write as CSV. */
export interface CsvJob {
  readonly kind: 'csv'
  readonly trace: Trace
}

/** A trace to write as EDF+. */
export interface EdfJob {
  readonly kind: 'edf'
  readonly trace: Trace
  /** As the analysis takes them, so that the same stamps count as even. */
  readonly stampResolutionS?: number
  readonly clock?: StreamClock
}

/** Stored samples to write as lossless rows. */
export interface SamplesCsvJob {
  readonly kind: 'samples-csv'
  readonly block: SampleBlock
}

export type AnalysisJob = FileJob | TraceJob | CsvJob | EdfJob | SamplesCsvJob

/** What each kind of job yields. */
export interface JobResults {
  readonly file: { readonly input: AnalysisInput; readonly analysis: AnalysisRecord }
  readonly trace: { readonly analysis: AnalysisRecord }
  readonly csv: { readonly csv: string }
  readonly edf: { readonly edf: Uint8Array }
  readonly 'samples-csv': { readonly csv: string }
}
export type JobResult<Job extends AnalysisJob> = JobResults[Job['kind']]

export type WorkerReply =
  | { readonly ok: true; readonly result: JobResults[keyof JobResults] }
  | { readonly ok: false; readonly error: WorkerFailure }

/** An error as it crosses the thread. */
export interface WorkerFailure {
  readonly name: string
  readonly message: string
  readonly stack?: string
  readonly code?: string
  readonly line?: number
  readonly column?: string
  readonly value?: string
  readonly remedy?: string
}

/** A job that the worker refused: the trace is at fault, not the server. */
export class TraceRefusedError extends Error {
  override readonly name = 'TraceRefusedError'
  readonly failure: WorkerFailure

  constructor(failure: WorkerFailure) {
    super(failure.message)
    this.failure = failure
  }
}

/** The server stops: the job was not done, and may be done after the next start. */
export class PoolClosedError extends Error {
  override readonly name = 'PoolClosedError'

  constructor() {
    super('the server is stopping')
  }
}
