import type { MarkMessage, StoredMark } from '#protocol/messages'
import { LiveSender } from '../lib/live-sender'
import type { OutboxFrame } from '../lib/outbox'
import type { SocketOptions, SocketStatus } from '../lib/socket'
import type { RecordingPlan } from './messages'
import { SessionOpener } from './open-session'
import type { SessionOpenerOptions } from './open-session'
import type { Batch, KeptContent, OutboxStore } from './outbox-store'

/** After the device would not keep something, it is asked again this much later, ms. */
const KEEP_AGAIN_MS = 5000
/** What the server confirmed is deleted from the device this often, ms. */
const FORGET_EVERY_MS = 1000
/** A device that answers later than this is taken to keep nothing, ms. */
const KEEP_WITHIN_MS = 10_000

export interface CourierHandlers {
  onStatus(status: SocketStatus): void
  /** A mark of the session that somebody else set. */
  onMark(mark: StoredMark): void
  /** All of it is stored and the session finished. */
  onFinished(): void
  /** The server refused for good; what was not stored stays on this device. */
  onRefused(message: string, code?: string): void
}

export interface CourierOptions extends SocketOptions, SessionOpenerOptions {
  keepAgainMs?: number
  forgetEveryMs?: number
}

/**
 * Brings one stream to the server by way of this device's store: what is given to it is kept first,
 * then sent, and forgotten when the server has confirmed it. Without a store, or while the store
 * refuses (quota), it goes on from memory and says so (`keptOnDevice`).
 */
export class Courier {
  readonly #stream: string
  readonly #recording: RecordingPlan
  readonly #store: OutboxStore | null
  readonly #handlers: CourierHandlers
  readonly #sender: LiveSender
  readonly #opener: SessionOpener
  readonly #drain: () => readonly OutboxFrame[]
  readonly #keepAgainMs: number
  readonly #forgetEveryMs: number
  #begun: boolean
  #opened: boolean
  #marks: MarkMessage[] = []
  #finishing = false
  #finishGiven = false
  /** Given to the sender without being kept. */
  #unkept: { frames: OutboxFrame[]; marks: MarkMessage[]; finished?: true } = { frames: [], marks: [] }
  #keepAgainAtMs = 0
  #pumping = false
  #closed = false
  #forgetTimer: ReturnType<typeof setTimeout> | undefined
  #keepTimer: ReturnType<typeof setTimeout> | undefined

  /**
   * @param drain gives what is new, in order; called when the one before it is kept
   * @param kept what an earlier page left of this stream
   */
  constructor(
    recording: RecordingPlan,
    serverUrl: string,
    store: OutboxStore | null,
    drain: () => readonly OutboxFrame[],
    handlers: CourierHandlers,
    { kept, ...options }: CourierOptions & { kept?: KeptContent } = {},
  ) {
    this.#stream = recording.stream
    this.#recording = recording
    this.#store = store
    this.#drain = drain
    this.#handlers = handlers
    this.#keepAgainMs = options.keepAgainMs ?? KEEP_AGAIN_MS
    this.#forgetEveryMs = options.forgetEveryMs ?? FORGET_EVERY_MS
    this.#begun = kept !== undefined
    this.#opened = kept?.stream.opened ?? false
    const { session, stream, rateHz, channels, startedAtUs, resolutionMs2 } = recording
    this.#sender = new LiveSender(
      socketAddress(serverUrl),
      { session: session.id, stream, rateHz, channels, startedAtUs, resolutionMs2 },
      {
        onStatus: handlers.onStatus,
        onStored: (nextIndex) => this.#stored(nextIndex),
        onMarkStored: (id) => this.#markStored(id),
        onMark: handlers.onMark,
        onFinished: () => void this.#finished(),
        onRefused: handlers.onRefused,
      },
      { ...options, fromIndex: kept?.frames[0]?.firstIndex ?? kept?.stream.nextIndex ?? 0 },
    )
    for (const frame of kept?.frames ?? []) this.#sender.push(frame)
    for (const mark of kept?.marks ?? []) this.#sender.mark(mark)
    this.#opener = new SessionOpener(
      serverUrl,
      session,
      {
        onStatus: handlers.onStatus,
        onOpened: () => void this.#sessionOpened(),
        onRefused: handlers.onRefused,
      },
      options,
    )
  }

  /** Samples given to the sender that the server has not confirmed. */
  get unacknowledgedSamples() {
    return this.#sender.unacknowledgedSamples
  }

  /** Samples given up because the memory was full. */
  get lostSamples() {
    return this.#sender.lostSamples
  }

  /** Whether everything not confirmed is safe on this device. */
  get keptOnDevice() {
    const { frames, marks, finished } = this.#unkept
    return this.#store !== null && this.#begun && frames.length === 0 && marks.length === 0 && !finished
  }

  /** Resolves once the stream is known to the device; then everything follows. */
  async start() {
    await this.#begin()
    if (this.#closed) return
    if (this.#opened) this.#sender.start()
    else this.#opener.start()
    this.wake()
  }

  /** There is something to fetch. */
  wake() {
    void this.#pump()
  }

  mark(mark: MarkMessage) {
    this.#marks.push(mark)
    this.wake()
  }

  /** Nothing follows any more: once everything is stored, the session is finished. */
  finish() {
    this.#finishing = true
    this.wake()
  }

  retryNow() {
    if (this.#opened) this.#sender.retryNow()
    else this.#opener.retryNow()
  }

  close() {
    this.#closed = true
    clearTimeout(this.#forgetTimer)
    clearTimeout(this.#keepTimer)
    this.#opener.close()
    this.#sender.close()
  }

  async #pump() {
    if (this.#pumping || this.#closed) return
    this.#pumping = true
    for (let batch = this.#next(); batch && !this.#closed; batch = this.#next()) {
      await this.#keep(batch)
      if (this.#closed) break
      for (const frame of batch.frames) this.#sender.push(frame)
      for (const mark of batch.marks) this.#sender.mark(mark)
      if (batch.finished) this.#sender.finish()
    }
    this.#pumping = false
  }

  #next(): Batch | null {
    const frames = this.#drain()
    const marks = this.#marks
    this.#marks = []
    const finished = this.#finishing && !this.#finishGiven
    if (frames.length === 0 && marks.length === 0 && !finished) return null
    if (finished) this.#finishGiven = true
    return { frames, marks, ...(finished && { finished }) }
  }

  async #begin() {
    if (this.#begun || !this.#store) return
    try {
      await inTime(this.#store.begin(this.#recording))
      this.#begun = true
    } catch {
      // Told by keptOnDevice; tried again with the next samples.
      this.#askAgainLater()
    }
  }

  /** Resolves when the batch is kept, or when the device will not keep it. */
  async #keep(batch: Batch) {
    if (!this.#store) return
    const all = {
      frames: [...this.#unkept.frames, ...batch.frames],
      marks: [...this.#unkept.marks, ...batch.marks],
      finished: batch.finished ?? this.#unkept.finished,
    }
    if (performance.now() < this.#keepAgainAtMs) {
      this.#unkept = all
      return
    }
    await this.#begin()
    try {
      if (!this.#begun) throw new Error('the stream itself is not kept')
      await inTime(this.#store.keep(this.#stream, all))
      this.#unkept = { frames: [], marks: [] }
    } catch {
      // Told by keptOnDevice: it goes on from memory, and the device is asked again.
      this.#unkept = all
      this.#askAgainLater()
    }
  }

  #askAgainLater() {
    this.#keepAgainAtMs = performance.now() + this.#keepAgainMs
    clearTimeout(this.#keepTimer)
    this.#keepTimer = setTimeout(() => {
      if (!this.keptOnDevice && !this.#pumping) void this.#keep({ frames: [], marks: [] })
    }, this.#keepAgainMs + 1)
  }

  #stored(nextIndex: number) {
    this.#unkept.frames = this.#unkept.frames.filter((frame) => frame.firstIndex + frame.count > nextIndex)
    if (!this.#store) return
    this.#forgetTimer ??= setTimeout(() => {
      this.#forgetTimer = undefined
      void this.#forget(this.#store!.forgetBelow(this.#stream, this.#sender.firstUnstoredIndex))
    }, this.#forgetEveryMs)
  }

  #markStored(id: string) {
    this.#unkept.marks = this.#unkept.marks.filter((mark) => mark.id !== id)
    if (this.#store) void this.#forget(this.#store.forgetMark(this.#stream, id))
  }

  async #forget(done: Promise<void>) {
    try {
      await inTime(done)
    } catch {
      // It stays on the device a while longer; the server's number says what need not be sent again.
    }
  }

  async #sessionOpened() {
    this.#opened = true
    if (this.#store && this.#begun) await this.#forget(this.#store.opened(this.#stream))
    if (!this.#closed) this.#sender.start()
  }

  async #finished() {
    clearTimeout(this.#forgetTimer)
    clearTimeout(this.#keepTimer)
    // A later page would only hear from the server that it has everything.
    if (this.#store) await this.#forget(this.#store.discard(this.#stream))
    this.#handlers.onFinished()
  }
}

function socketAddress(serverUrl: string): string {
  const url = new URL('/api/live/send', serverUrl)
  url.protocol = url.protocol === 'https:' ? 'wss:' : 'ws:'
  return url.href
}

function inTime<T>(promise: Promise<T>): Promise<T> {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => reject(new Error('the device did not keep it in time')), KEEP_WITHIN_MS)
    promise.then(resolve, reject).finally(() => clearTimeout(timer))
  })
}
