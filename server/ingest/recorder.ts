import { setImmediate as nextTurn } from 'node:timers/promises'
import type { SampleFrame } from '#protocol/frames'
import type { StoredMark } from '#protocol/messages'
import { LivePipeline } from '#signal/live/pipeline'
import type { Mark } from '#signal/trace/trace'
import { ServerError } from '../errors.ts'
import type { Channel } from '../live/channel.ts'
import { SessionPicture } from '../live/session-picture.ts'
import type { SessionTitle } from '../live/session-picture.ts'
import type { StreamRecord, TimeSeries } from '../store/time-series.ts'
import { StreamMissingError } from '../store/time-series.ts'
import { Cursor } from './cursor.ts'
import { acceleration, storedColumns } from './frame-columns.ts'

/** A stream may last this long; a lost frame must not make the analyser walk through years. */
const MAX_STREAM_S = 12 * 3600

export interface RecorderParts {
  readonly series: TimeSeries
  readonly stream: StreamRecord
  readonly title: SessionTitle
  readonly marks: readonly StoredMark[]
  readonly channel: Channel
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
  readonly #series: TimeSeries
  readonly #channel: Channel
  readonly #cursor: Cursor
  readonly #pipeline: LivePipeline
  #picture: SessionPicture
  #silent = true
  #closed: ServerError | null = null
  readonly #pending = new Set<Promise<void>>()

  private constructor(parts: RecorderParts, nextIndex: number) {
    this.stream = parts.stream
    this.#series = parts.series
    this.#channel = parts.channel
    this.#cursor = new Cursor(nextIndex)
    this.#picture = new SessionPicture(parts.title, parts.marks)
    this.#pipeline = new LivePipeline({ rateHz: parts.stream.rateHz, sink: this.#sink() })
  }

  /** A recorder that stands where the stored stream ends, its analyser fed with all of it. */
  static async open(parts: RecorderParts): Promise<Recorder> {
    const { nextIndex } = await parts.series.state(parts.stream.id)
    const recorder = new Recorder(parts, nextIndex)
    await recorder.#replay(parts, nextIndex)
    recorder.#silent = false
    parts.channel.picture = () => recorder.#picture.snapshot(recorder.nextIndex / parts.stream.rateHz)
    parts.channel.refresh()
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
    this.#store(frame, step.skip)
    this.#channel.samplesArrived(frame.arrivedAtUs)
  }

  #store(frame: SampleFrame, skip: number): void {
    const firstIndex = frame.firstIndex + skip
    if (frame.encoding === 'lost') {
      const count = frame.count - skip
      this.#awaitCommit(this.#series.appendLost(this.stream.id, firstIndex, count))
      this.#pipeline.lost(firstIndex, count)
      return
    }
    const columns = storedColumns(frame, skip)
    this.#awaitCommit(this.#series.appendSamples(this.stream.id, firstIndex, columns))
    this.#pipeline.push(firstIndex, acceleration(columns))
  }

  #awaitCommit(stored: Promise<number>): void {
    const settled = stored.then(
      (nextIndex) => {
        this.#pending.delete(settled)
        if (this.#closed) return
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
    this.listener?.failed(error)
  }

  /** Resolves once everything taken is stored, or refused by the store. */
  async settled(): Promise<void> {
    while (this.#pending.size > 0) await Promise.all(this.#pending)
    if (this.#closed) throw this.#closed
  }

  /** A mark that is stored already. */
  mark(mark: StoredMark): void {
    this.#picture.addMark(mark)
    this.#channel.broadcast({ type: 'mark', mark })
    this.#pipeline.mark(signalMark(mark))
  }

  /** Settles the last hold and refuses further samples. */
  finish(): void {
    this.#pipeline.finish()
    this.#closed ??= new ServerError('SESSION_FINISHED', { sessionId: this.stream.sessionId })
    this.#channel.flush()
  }

  #sink() {
    const tell = (message: Parameters<Channel['broadcast']>[0]) => {
      if (!this.#silent) this.#channel.broadcast(message)
    }
    return {
      onWindow: (window: Parameters<SessionPicture['addWindow']>[0]) => {
        this.#picture.addWindow(window)
        if (!this.#silent) this.#channel.window(window)
      },
      onStrip: (strip: Parameters<SessionPicture['addStrip']>[0]) => {
        this.#picture.addStrip(strip)
        if (!this.#silent) this.#channel.strip(strip)
      },
      onHold: (hold: Parameters<SessionPicture['addHold']>[0]) => {
        this.#picture.addHold(hold)
        tell({ type: 'hold', hold })
      },
      onReference: (reference: Parameters<SessionPicture['setReference']>[0]) => {
        this.#picture.setReference(reference)
        tell({ type: 'reference', reference })
      },
    }
  }

  /** Feeds the analyser with what is stored; marks come when the stream reaches them, as they did live. */
  async #replay({ stream, series, marks }: RecorderParts, nextIndex: number): Promise<void> {
    const waiting = [...marks].sort((a, b) => a.atS - b.atS)
    const markUntil = (atS: number) => {
      while (waiting.length > 0 && waiting[0].atS <= atS) this.#pipeline.mark(signalMark(waiting.shift()!))
    }
    let blocks = 0
    for await (const block of series.readSamples(stream.id, 0, nextIndex)) {
      markUntil(block.firstIndex / stream.rateHz)
      this.#pipeline.push(block.firstIndex, acceleration(block))
      if (++blocks % 32 === 0) await nextTurn()
    }
    const lost = (await series.lostRanges(stream.id)).at(-1)
    if (lost) this.#pipeline.lost(lost.firstIndex, lost.count)
    markUntil(Infinity)
  }
}

function signalMark({ atS, kind, note }: StoredMark): Mark {
  return note === null ? { atS, kind } : { atS, kind, note }
}
