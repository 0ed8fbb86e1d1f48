/** Columns of equal length, in the order the stream declares; values keep their type exactly. */
export interface SampleColumns {
  readonly dtype: 'float32' | 'float64'
  readonly values: readonly (Float32Array | Float64Array)[]
}

export interface SampleBlock extends SampleColumns {
  readonly firstIndex: number
  readonly count: number
}

/** The packet whose last sample is `index` reached the sender at `arrivedAtUs`, UTC µs. */
export interface Arrival {
  readonly index: number
  readonly arrivedAtUs: number
}

export interface IndexRange {
  readonly firstIndex: number
  readonly count: number
}

/**
 * A run of samples of one sensor. Live streams hold ax ay az (gx gy gz) at index / rateHz seconds;
 * traces hold t first, because uploaded time stamps may be uneven.
 */
export interface StreamRecord {
  readonly id: string
  readonly sessionId: string
  readonly kind: 'live' | 'trace'
  readonly columns: readonly string[]
  readonly rateHz: number
  /** UTC µs of sample 0, when known. */
  readonly startedAtUs: number | null
  readonly resolutionMs2: number | null
  /** What the trace file said about itself, needed to analyse it again. */
  readonly source: TraceSource | null
}

export interface TraceSource {
  readonly unit: string
  readonly stampResolutionS?: number
  readonly duplicates?: number
  readonly unusedSamples?: number
  readonly notes?: readonly string[]
}

export interface StreamState {
  /** Everything below is durable: stored as samples or as lost. */
  readonly nextIndex: number
  /** The sender said that this is all. */
  readonly complete: boolean
}

/** Samples that are not contiguous with what the stream holds. */
export class StreamGapError extends Error {
  override readonly name = 'StreamGapError'
  readonly missingIndex: number

  constructor(stream: string, missingIndex: number) {
    super(`stream ${stream} ends before index ${missingIndex}: append from there`)
    this.missingIndex = missingIndex
  }
}

/** The stream was deleted, or never opened. */
export class StreamMissingError extends Error {
  override readonly name = 'StreamMissingError'
}

/** A stored block whose bytes changed, or that is gone; the message names stream and index. */
export class CorruptBlockError extends Error {
  override readonly name = 'CorruptBlockError'
  readonly stream: string
  readonly range: IndexRange

  constructor(stream: string, range: IndexRange, message: string) {
    super(message)
    this.stream = stream
    this.range = range
  }
}

/** Stored samples cannot be read at the moment: they are where they were, behind a server that does not answer. */
export class SeriesUnavailableError extends Error {
  override readonly name = 'SeriesUnavailableError'
}

/** Samples by stream and index. Promises resolve once the change is durable. */
export interface TimeSeries {
  /** Opens a stream; a stream of this id that exists already is left as it is. */
  addStream(stream: StreamRecord): Promise<void>
  stream(id: string): Promise<StreamRecord | null>
  streamOfSession(sessionId: string): Promise<StreamRecord | null>
  state(id: string): Promise<StreamState>
  /**
   * Appends; whatever part of it the stream has already is ignored, so the same call twice changes
   * nothing. Gives the stream's next index.
   * `arrivedAtUs` is kept with the packet when it is given.
   * @throws {StreamGapError} when samples before `firstIndex` are missing
   * @throws {StreamMissingError} when there is no such stream
   */
  appendSamples(
    stream: string,
    firstIndex: number,
    columns: SampleColumns,
    arrivedAtUs?: number,
  ): Promise<number>
  /** The same for samples that never arrived. */
  appendLost(stream: string, firstIndex: number, count: number): Promise<number>
  complete(stream: string): Promise<void>
  /**
   * Joins what short appends left into what is best to keep and read. Changes nothing that is read;
   * may be called at any time and again. Resolves once it is durable.
   * @throws {CorruptBlockError} when a block does not match its checksum; it stays as it is
   */
  compact(stream: string): Promise<void>
  /**
   * Blocks that overlap [fromIndex, toIndex), cut to it, ascending.
   * With `leaveOut` a block that does not match its checksum is told to it and left out.
   * @throws {CorruptBlockError} when a block does not match its checksum
   * @throws {SeriesUnavailableError} when they are out of reach at the moment
   */
  readSamples(
    stream: string,
    fromIndex: number,
    toIndex: number,
    leaveOut?: (damage: CorruptBlockError) => void,
  ): AsyncIterable<SampleBlock>
  /**
   * What of a stream cannot be read because stored bytes changed or are gone, ascending, neighbours joined. Of
   * samples behind a server only what reading found so far: they are not asked for here.
   */
  damaged(stream: string): Promise<IndexRange[]>
  /** When the packets of the stream arrived, as far as it was told, ascending. */
  arrivals(stream: string): Promise<Arrival[]>
  lostRanges(stream: string): Promise<IndexRange[]>
}
