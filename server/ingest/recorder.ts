import type { FastifyBaseLogger } from 'fastify'
import type { SampleFrame } from '#protocol/frames'
import type { StoredMark } from '#protocol/messages'
import { COMMON_PRACTICE_STOP_LIMITS } from '#signal/live/stop-limits'
import { ServerError } from '../errors.ts'
import { Channel } from '../live/channel.ts'
import type { StreamRecord, TimeSeries } from '../store/time-series.ts'
import { SeriesUnavailableError, StreamMissingError } from '../store/time-series.ts'
import { Cursor } from './cursor.ts'
import { acceleration, storedColumns } from './frame-columns.ts'
import { LiveAnalysis } from './live-analysis.ts'
import type { LiveAnalysisParts } from './live-analysis.ts'
import { NO_METER } from './meter.ts'
import type { IngestMeter } from './meter.ts'
import { tell } from '../log/tell.ts'

/** A stream may last this long; a lost frame must not make the analyser walk through years. */
const MAX_STREAM_S = 12 * 3600

export interface RecorderParts extends LiveAnalysisParts {
  readonly marks: readonly StoredMark[]
  readonly log: FastifyBaseLogger
  readonly meter: IngestMeter
}

/** Told about one recorder's stream. */
export interface RecorderListener {
  /** Everything below is durable. */
  durable(nextIndex: number): void
  /** Somebody else set a mark. */
  marked(mark: StoredMark): void
  /** The recorder cannot go on; what was not acknowledged must be sent again. */
  failed(error: ServerError): void
}

/**
 * One live stream being recorded: cursor, store and live analyser. Samples reach the analyser when
 * they arrive and are acknowledged when they are stored. After a failure the recorder is thrown
 * away and a new one is built from what is stored.
 */
export class Recorder {
  readonly stream: StreamRecord
  listener: RecorderListener | null = null
  onFailure: () => void = () => {}
  readonly #parts: Omit<RecorderParts, 'marks'>
  readonly #cursor: Cursor
  readonly #pending = new Set<Promise<void>>()
  readonly #analysis: LiveAnalysis
  #closed: ServerError | null = null
  #isStalled = false

  private constructor(parts: RecorderParts, nextIndex: number) {
    this.stream = parts.stream
    this.#parts = parts
    this.#cursor = new Cursor(nextIndex)
    this.#analysis = new LiveAnalysis(parts)
  }

  /** A recorder that stands where the stored stream ends, its analyser fed with all of it. */
  static async open(parts: RecorderParts): Promise<Recorder> {
    const { nextIndex } = await parts.series.state(parts.stream.id)
    const recorder = new Recorder(parts, nextIndex)
    await recorder.rebuild(parts.marks)
    return recorder
  }

  /** A stream that its sender has finished: it only confirms what is stored. */
  static async ended(series: TimeSeries, stream: StreamRecord, log: FastifyBaseLogger): Promise<Recorder> {
    const title = {
      session: stream.sessionId,
      dogName: '',
      rateHz: stream.rateHz,
      startedAtUs: 0,
      headingResolved: false,
      planned: null,
      limits: COMMON_PRACTICE_STOP_LIMITS,
    }
    const { nextIndex } = await series.state(stream.id)
    const mount = 'auto' as const
    const parts = { series, stream, title, mount, marks: [], channel: new Channel(), log, meter: NO_METER }
    const recorder = new Recorder(parts, nextIndex)
    recorder.#closed = new ServerError('SESSION_FINISHED', { sessionId: stream.sessionId })
    return recorder
  }

  get nextIndex(): number {
    return this.#cursor.nextIndex
  }

  get durableIndex(): number {
    return this.#cursor.durableIndex
  }

  /** Frames on their way to the disk. */
  get waiting(): number {
    return this.#pending.size
  }

  /** Why frames are refused, once they are. */
  get closed(): ServerError | null {
    return this.#closed
  }

  get finished(): boolean {
    return this.#closed?.code === 'SESSION_FINISHED'
  }

  /** @throws {ServerError} for a frame that is refused; the stream stays as it was */
  take(frame: SampleFrame): void {
    // What is stored already may be repeated as long as the sender likes, after the end too.
    const isStored = frame.firstIndex + frame.count <= this.durableIndex
    if (this.finished && isStored) return this.listener?.durable(this.durableIndex)
    if (this.#closed) throw this.#closed
    const { stream } = this
    if (frame.encoding !== 'lost' && frame.channels !== stream.columns.length) {
      const values = { expected: stream.columns.length, channels: frame.channels }
      throw new ServerError('FRAME_CHANNELS', values)
    }
    const end = frame.firstIndex + frame.count
    if (end > MAX_STREAM_S * stream.rateHz) {
      const reason = `A stream may last ${MAX_STREAM_S / 3600} h; the frame ends at index ${end}.`
      throw new ServerError('FRAME_INVALID', { reason })
    }
    const step = this.#cursor.take(frame.firstIndex, frame.count)
    if (step.kind === 'gap') throw new ServerError('FRAME_GAP', { missingIndex: step.missingIndex })
    if (step.kind === 'duplicate') return this.listener?.durable(this.durableIndex)
    const analyse = this.#store(frame, step.skip)
    if (!this.#analysis.live) return
    try {
      analyse()
    } catch (err) {
      // A defect of the live analysis must not cost samples: they are stored and measured afterwards.
      this.#analysis.stop()
      tell(this.#parts.log, 'live-analysis.stopped', { err, stream: stream.id, index: frame.firstIndex })
    }
    this.#parts.channel.samplesArrived(frame.arrivedAtUs)
  }

  /** Gives the samples to the store; the answer gives them to the analyser. */
  #store(frame: SampleFrame, skip: number): () => void {
    const { series, meter } = this.#parts
    const firstIndex = frame.firstIndex + skip
    if (frame.encoding === 'lost') {
      const count = frame.count - skip
      meter.lost(count)
      this.#awaitCommit(0, series.appendLost(this.stream.id, firstIndex, count))
      return () => this.#analysis.lost(firstIndex, count)
    }
    const columns = storedColumns(frame, skip)
    const count = frame.count - skip
    meter.received(count)
    this.#awaitCommit(count, series.appendSamples(this.stream.id, firstIndex, columns, frame.arrivedAtUs))
    return () => this.#analysis.push(firstIndex, acceleration(columns))
  }

  #awaitCommit(samples: number, stored: Promise<number>): void {
    const { meter } = this.#parts
    const givenAtMs = performance.now()
    const settled = stored.then(
      (nextIndex) => {
        this.#pending.delete(settled)
        meter.stored(samples, (performance.now() - givenAtMs) / 1000)
        this.#cursor.confirm(nextIndex)
        this.listener?.durable(nextIndex)
      },
      (error: unknown) => {
        this.#pending.delete(settled)
        const gone = error instanceof StreamMissingError
        if (!gone) meter.failed(error)
        const values = { sessionId: this.stream.sessionId }
        this.fail(new ServerError(gone ? 'SESSION_DELETED' : 'STORE_FAILED', values, { cause: error }))
      },
    )
    this.#pending.add(settled)
  }

  /** Ends this recorder: frames are refused with `error` from now on. */
  fail(error: ServerError): void {
    if (this.#closed) return
    this.#closed = error
    this.onFailure()
    this.listener?.failed(error)
  }

  /** Resolves once everything taken is stored. @throws {ServerError} when the recorder is closed */
  async settled(): Promise<void> {
    await this.drained()
    if (this.#closed) throw this.#closed
  }

  /** Resolves once nothing is on its way to the disk, whatever became of it. */
  async drained(): Promise<void> {
    while (this.#pending.size > 0) await Promise.all(this.#pending)
  }

  /** A mark that is stored already; whoever it came `from` knows it. */
  mark(mark: StoredMark, from?: RecorderListener): void {
    if (this.listener !== from) this.listener?.marked(mark)
    this.#analysis.mark(mark, this.nextIndex / this.stream.rateHz)
  }

  /** Settles the last hold and refuses further samples. */
  finish(): void {
    this.#closed ??= new ServerError('SESSION_FINISHED', { sessionId: this.stream.sessionId })
    // One that is being rebuilt is not asked: its viewers are told the end in a moment.
    if (this.#analysis.live) this.#finishAnalyser()
    this.#parts.channel.flush()
  }

  #finishAnalyser(): void {
    try {
      this.#analysis.finish()
    } catch (err) {
      this.#analysis.stop()
      tell(this.#parts.log, 'live-analysis.stopped', { err, stream: this.stream.id })
    }
  }

  /** Whether samples are stored without being analysed live: what came before them cannot be read. */
  get isStalled(): boolean {
    return this.#isStalled && !this.#closed
  }

  /** Recording goes on; viewers get the whole picture once what is stored can be read again. */
  #stall(err: SeriesUnavailableError): void {
    this.#isStalled = true
    tell(this.#parts.log, 'live-analysis.waits', { err, stream: this.stream.id })
  }

  /** Analyses what is stored anew, with these marks, and shows it; frames may go on arriving. */
  async rebuild(marks: readonly StoredMark[]): Promise<void> {
    try {
      this.#isStalled = false
      await this.#analysis.rebuild(marks, this)
    } catch (cause) {
      if (cause instanceof SeriesUnavailableError) return this.#stall(cause)
      this.fail(new ServerError('STORE_FAILED', {}, { cause }))
      throw cause
    }
  }
}
