import type { HoldMessage, ReferenceMessage, StopMessage, StoredMark } from '#protocol/messages'
import { SessionPicture } from '#protocol/session-picture'
import type { SessionTitle } from '#protocol/session-picture'
import { LivePipeline } from '#signal/live/pipeline'
import type { MountOption } from '#signal/mount/mount'
import type { Vector3Series } from '#signal/trace/trace'
import type { Channel } from '../live/channel.ts'
import type { StreamRecord, TimeSeries } from '../store/time-series.ts'
import { replay, signalMark } from './replay.ts'

export interface LiveAnalysisParts {
  readonly series: TimeSeries
  readonly stream: StreamRecord
  readonly title: SessionTitle
  readonly mount: MountOption
  readonly channel: Channel
}

/** How far the stream being analysed has come, for one that catches up from the store. */
export interface StreamPosition {
  /** Index of the first sample not received. */
  readonly nextIndex: number
  readonly durableIndex: number
  /** Resolves once everything received is stored. */
  settled(): Promise<void>
}

/**
 * The live analyser of one stream and the picture its viewers get. It can be built anew from what is
 * stored while samples go on arriving; until it has caught up nothing is told.
 */
export class LiveAnalysis {
  readonly #parts: LiveAnalysisParts
  #picture: SessionPicture
  #pipeline: LivePipeline
  /** False while the analyser is being fed from the store, and once it has failed. */
  #live = false
  /** Marks beyond what the analyser has been fed: it wants a mark after the samples before it. */
  #marksAhead: StoredMark[] = []

  constructor(parts: LiveAnalysisParts) {
    this.#parts = parts
    this.#picture = new SessionPicture(parts.title, [])
    this.#pipeline = this.#newPipeline()
  }

  get live(): boolean {
    return this.#live
  }

  /** The next samples of the stream. */
  push(firstIndex: number, acc: Vector3Series): void {
    this.#pipeline.push(firstIndex, acc)
    this.giveMarks((firstIndex + acc.x.length) / this.#parts.stream.rateHz)
  }

  /** The next samples of the stream will never come. */
  lost(firstIndex: number, count: number): void {
    this.#pipeline.lost(firstIndex, count)
    this.giveMarks((firstIndex + count) / this.#parts.stream.rateHz)
  }

  /** A mark that is stored already, when the stream has come to `receivedS`. */
  mark(mark: StoredMark, receivedS: number): void {
    this.#picture.addMark(mark)
    this.#parts.channel.broadcast({ type: 'mark', mark })
    this.#marksAhead.push(mark)
    if (this.#live) this.giveMarks(receivedS)
  }

  /** Settles the last hold. */
  finish(): void {
    this.giveMarks(Infinity)
    this.#pipeline.finish()
  }

  /** The analyser has failed: nothing more is told. */
  stop(): void {
    this.#live = false
  }

  /**
   * Feeds a new analyser with what is stored and these marks, then shows the session anew. Frames
   * may go on arriving meanwhile: they are read back until the analyser has caught up.
   */
  async rebuild(marks: readonly StoredMark[], position: StreamPosition): Promise<void> {
    const { title, channel, series, stream } = this.#parts
    this.#live = false
    this.#marksAhead = [...marks]
    const picture = (this.#picture = new SessionPicture(title, marks))
    const pipeline = (this.#pipeline = this.#newPipeline())
    let fedIndex = -1
    while (fedIndex < position.nextIndex) {
      await position.settled()
      const fromIndex = Math.max(0, fedIndex)
      const toIndex = position.durableIndex
      const reached = (atS: number) => {
        if (this.#pipeline === pipeline) this.giveMarks(atS)
      }
      await replay({ pipeline, series, stream, fromIndex, toIndex, reached })
      // A newer rebuild goes on instead.
      if (this.#pipeline !== pipeline) return
      fedIndex = toIndex
    }
    this.#live = true
    this.giveMarks(position.nextIndex / stream.rateHz)
    channel.picture = () => picture.snapshot(position.nextIndex / stream.rateHz)
    channel.refresh()
  }

  /** Gives the analyser the marks up to a time that its samples have reached. */
  giveMarks(untilS: number): void {
    if (this.#marksAhead.length === 0) return
    const due = this.#marksAhead.filter(({ atS }) => atS <= untilS)
    if (due.length === 0) return
    this.#marksAhead = this.#marksAhead.filter(({ atS }) => atS > untilS)
    due.sort((a, b) => a.atS - b.atS)
    for (const mark of due) this.#pipeline.mark(signalMark(mark))
  }

  #newPipeline(): LivePipeline {
    const { channel, stream, title, mount } = this.#parts
    const picture = this.#picture
    const tell = (message: HoldMessage | ReferenceMessage | StopMessage) => {
      if (this.#live) channel.broadcast(message)
    }
    return new LivePipeline({
      rateHz: stream.rateHz,
      mount,
      limits: title.limits,
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
        onStop: (stop) => {
          picture.addStop(stop)
          tell({ type: 'stop', stop })
        },
      },
    })
  }
}
