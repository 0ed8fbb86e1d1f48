import type { FastifyBaseLogger } from 'fastify'
import type { SampleFrame } from '#protocol/frames'
import type { HoldMessage, ReferenceMessage, StoredMark } from '#protocol/messages'
import { SessionPicture } from '#protocol/session-picture'
import type { SessionTitle } from '#protocol/session-picture'
import { LivePipeline } from '#signal/live/pipeline'
import type { MountOption } from '#signal/mount/mount'
import { ServerError } from '../errors.ts'
import { Channel } from '../live/channel.ts'
import type { StreamRecord, TimeSeries } from '../store/time-series.ts'
import { StreamMissingError } from '../store/time-series.ts'
import { Cursor } from './cursor.ts'
import { acceleration, storedColumns } from './frame-columns.ts'
import { replay, signalMark } from './replay.ts'

/** A stream may last this long; a lost frame must not make the analyser walk through years. */
const MAX_STREAM_S = 12 * 3600

export interface RecorderParts {
  readonly series: TimeSeries
  readonly stream: StreamRecord
  readonly title: SessionTitle
  readonly mount: MountOption
  readonly marks: readonly StoredMark[]
  readonly channel: Channel
  readonly log: FastifyBaseLogger
}

/** Told about one recorder's stream. */
export interface RecorderListener {
  /** Everything below is durable. */
  durable(nextIndex: number): void
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
  #picture: SessionPicture
  #pipeline: LivePipeline
  /** False while the analyser is being fed from the store. */
  #live = false
  /** Marks beyond what the analyser has been fed: it wants a mark after the samples before it. */
  #marksAhead: StoredMark[] = []
  #closed: ServerError | null = null

  private constructor(parts: RecorderParts, nextIndex: number) {
    this.stream = parts.stream
    this.#parts = parts
    this.#cursor = new Cursor(nextIndex)
    this.#picture = new SessionPicture(parts.title, parts.marks)
    this.#pipeline = this.#newPipeline()
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
    }
    const { nextIndex } = await series.state(stream.id)
    const mount = 'auto' as const
    const parts = { series, stream, title, mount, marks: [], channel: new Channel(), log }
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
    if (!this.#live) return
    try {
      analyse()
      this.#giveMarks(end / stream.rateHz)
    } catch (err) {
      // A defect of the live analysis must not cost samples: they are stored and measured afterwards.
      this.#live = false
      this.#parts.log.error({ err, stream: stream.id, index: frame.firstIndex }, 'live analysis stopped')
    }
    this.#parts.channel.samplesArrived(frame.arrivedAtUs)
  }

  /** Gives the samples to the store; the answer gives them to the analyser. */
  #store(frame: SampleFrame, skip: number): () => void {
    const { series } = this.#parts
    const firstIndex = frame.firstIndex + skip
    if (frame.encoding === 'lost') {
      const count = frame.count - skip
      this.#awaitCommit(series.appendLost(this.stream.id, firstIndex, count))
      return () => this.#pipeline.lost(firstIndex, count)
    }
    const columns = storedColumns(frame, skip)
    this.#awaitCommit(series.appendSamples(this.stream.id, firstIndex, columns, frame.arrivedAtUs))
    return () => this.#pipeline.push(firstIndex, acceleration(columns))
  }

  #awaitCommit(stored: Promise<number>): void {
    const settled = stored.then(
      (nextIndex) => {
        this.#pending.delete(settled)
        this.#cursor.confirm(nextIndex)
        this.listener?.durable(nextIndex)
      },
      (error: unknown) => {
        this.#pending.delete(settled)
        const gone = error instanceof StreamMissingError
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

  /** A mark that is stored already. */
  mark(mark: StoredMark): void {
    this.#picture.addMark(mark)
    this.#parts.channel.broadcast({ type: 'mark', mark })
    this.#marksAhead.push(mark)
    if (this.#live) this.#giveMarks(this.nextIndex / this.stream.rateHz)
  }

  /** Settles the last hold and refuses further samples. */
  finish(): void {
    this.#closed ??= new ServerError('SESSION_FINISHED', { sessionId: this.stream.sessionId })
    // One that is being rebuilt is not asked: its viewers are told the end in a moment.
    if (this.#live) this.#finishAnalyser()
    this.#parts.channel.flush()
  }

  #finishAnalyser(): void {
    try {
      this.#giveMarks(Infinity)
      this.#pipeline.finish()
    } catch (err) {
      this.#live = false
      this.#parts.log.error({ err, stream: this.stream.id }, 'live analysis stopped')
    }
  }

  /**
   * Feeds a new analyser with what is stored and these marks, then shows the session anew. Frames
   * may go on arriving meanwhile: they are stored, and read back until the analyser has caught up.
   */
  async rebuild(marks: readonly StoredMark[]): Promise<void> {
    const { title, channel, series } = this.#parts
    this.#live = false
    this.#marksAhead = [...marks]
    const picture = (this.#picture = new SessionPicture(title, marks))
    const pipeline = (this.#pipeline = this.#newPipeline())
    try {
      let fedIndex = -1
      while (fedIndex < this.nextIndex) {
        await this.settled()
        const fromIndex = Math.max(0, fedIndex)
        const toIndex = this.durableIndex
        const reached = (atS: number) => {
          if (this.#pipeline === pipeline) this.#giveMarks(atS)
        }
        await replay({ pipeline, series, stream: this.stream, fromIndex, toIndex, reached })
        // A newer rebuild goes on instead.
        if (this.#pipeline !== pipeline) return
        fedIndex = toIndex
      }
    } catch (cause) {
      this.fail(new ServerError('STORE_FAILED', {}, { cause }))
      throw cause
    }
    this.#live = true
    this.#giveMarks(this.nextIndex / this.stream.rateHz)
    channel.picture = () => picture.snapshot(this.nextIndex / this.stream.rateHz)
    channel.refresh()
  }

  #giveMarks(untilS: number): void {
    const due = this.#marksAhead.filter(({ atS }) => atS <= untilS)
    if (due.length === 0) return
    this.#marksAhead = this.#marksAhead.filter(({ atS }) => atS > untilS)
    due.sort((a, b) => a.atS - b.atS)
    for (const mark of due) this.#pipeline.mark(signalMark(mark))
  }

  #newPipeline(): LivePipeline {
    const { channel, stream } = this.#parts
    const picture = this.#picture
    const tell = (message: HoldMessage | ReferenceMessage) => {
      if (this.#live) channel.broadcast(message)
    }
    return new LivePipeline({
      rateHz: stream.rateHz,
      mount: this.#parts.mount,
      sink: {
        onWindow: (window) => {
          picture.addWindow(window)
          if (this.#live) channel.window(window)
        },
        onStrip: (strip) => {
          picture.addStrip(strip)
          if (this.#live) channel.strip(strip)
        },
        onHold: (hold) => {
          picture.addHold(hold)
          tell({ type: 'hold', hold })
        },
        onReference: (reference) => {
          picture.setReference(reference)
          tell({ type: 'reference', reference })
        },
      },
    })
  }
}
