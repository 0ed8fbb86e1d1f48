import { encodeFrame } from '#protocol/frames'
import type { Hello, MarkMessage, PROTOCOL_VERSION, ServerToSender, StoredMark } from '#protocol/messages'
import { MarkQueue } from './mark-queue'
import { Outbox } from './outbox'
import type { OutboxFrame } from './outbox'
import { endsBySigningIn, ReconnectingSocket } from './socket'
import type { SocketOptions, SocketStatus } from './socket'

export const PROTOCOL: typeof PROTOCOL_VERSION = 1

/** Frames on their way without an acknowledgement, at most. */
const CREDIT_FRAMES = 64
/** Above this the browser's own send buffer is filling: keep frames in the outbox instead. */
const MAX_BUFFERED_BYTES = 256 * 1024

export interface StreamDescription {
  session: string
  stream: string
  rateHz: number
  channels: 3 | 6
  startedAtUs: number
  resolutionMs2?: number
}

export interface SenderHandlers {
  onStatus(status: SocketStatus): void
  /** The server holds everything below: what is kept of it may be forgotten. */
  onStored(nextIndex: number): void
  onMarkStored(id: string): void
  /** A mark of the session, set on another screen or before this connection. */
  onMark(mark: StoredMark): void
  onFinished(): void
  /** The server refused for good; what is in the outbox stays there. `code` is its error code. */
  onRefused(message: string, code?: string): void
}

/**
 * One stream on its way to the server: every frame waits in the outbox until it is acknowledged,
 * and after a reconnect the server's number decides what is sent again.
 */
export class LiveSender {
  readonly #hello: Hello
  readonly #handlers: SenderHandlers
  readonly #socket: ReconnectingSocket
  readonly #outbox: Outbox
  readonly #marks = new MarkQueue()
  #welcomed = false
  #finishing = false
  #finishSent = false
  #lastError: { message: string; code: string } | null = null

  /** @param fromIndex where the stream goes on when an earlier page began it */
  constructor(
    url: string,
    stream: StreamDescription,
    handlers: SenderHandlers,
    { fromIndex = 0, ...options }: SocketOptions & { fromIndex?: number } = {},
  ) {
    this.#hello = { type: 'hello', protocol: PROTOCOL, ...stream }
    this.#handlers = handlers
    this.#outbox = new Outbox({ fromIndex })
    this.#socket = new ReconnectingSocket(
      url,
      {
        onOpen: () => {
          this.#lastError = null
          this.#socket.send(this.#hello)
        },
        onMessage: (message) => this.#receive(message as ServerToSender),
        onStatus: (status) => {
          this.#welcomed = false
          handlers.onStatus(status)
        },
        isPassing: (reason) => endsBySigningIn(reason) || endsBySigningIn(this.#lastError?.code),
        onRefused: (_code, reason) => {
          if (this.#lastError) handlers.onRefused(this.#lastError.message, this.#lastError.code)
          else handlers.onRefused(reason)
        },
      },
      options,
    )
  }

  get unacknowledgedSamples() {
    return this.#outbox.unacknowledgedSamples
  }

  /** Every frame that begins below is stored. */
  get firstUnstoredIndex() {
    return this.#outbox.firstIndex
  }

  get lostSamples() {
    return this.#outbox.lostSamples
  }

  start() {
    this.#socket.connect()
  }

  /** Takes a frame; an index ahead of the last one means samples that never arrived, which is told. */
  push(frame: OutboxFrame) {
    const missing = frame.firstIndex - this.#outbox.nextIndex
    if (missing > 0) this.#outbox.pushLost(missing)
    if (frame.bytes) this.#outbox.push(frame.firstIndex, frame.count, frame.bytes)
    else this.#outbox.pushLost(frame.count)
    this.#flush()
  }

  mark(mark: MarkMessage) {
    this.#marks.put(mark)
    if (this.#welcomed) this.#socket.send(mark)
  }

  /** Says the stream is complete, once all of it is on its way; `onFinished` follows. */
  finish() {
    this.#finishing = true
    this.#flush()
  }

  retryNow() {
    this.#socket.retryNow()
  }

  close() {
    this.#socket.close()
  }

  #receive(message: ServerToSender) {
    switch (message.type) {
      case 'welcome':
        this.#welcomed = true
        this.#finishSent = false
        this.#outbox.resumeFrom(message.nextIndex)
        this.#handlers.onStored(message.nextIndex)
        for (const mark of this.#marks.pending) this.#socket.send(mark)
        this.#flush()
        break
      case 'ack':
        this.#outbox.acknowledge(message.nextIndex)
        this.#handlers.onStored(message.nextIndex)
        this.#flush()
        break
      case 'marked':
        this.#marks.confirm(message.id)
        this.#handlers.onMarkStored(message.id)
        this.#flush()
        break
      case 'mark':
        this.#handlers.onMark(message.mark)
        break
      case 'finished':
        this.#socket.close()
        this.#handlers.onFinished()
        break
      case 'error':
        // The close code that follows a fatal error decides whether to come back.
        this.#lastError = message
        break
      case 'pong':
        break
    }
  }

  #flush() {
    if (!this.#welcomed) return
    while (
      this.#outbox.outstandingFrames < CREDIT_FRAMES &&
      this.#socket.bufferedBytes < MAX_BUFFERED_BYTES
    ) {
      const frame = this.#outbox.take()
      if (!frame) break
      this.#socket.send(frame.bytes ?? this.#lossNotice(frame.firstIndex, frame.count))
    }
    if (this.#finishing && !this.#finishSent && this.#outbox.isEmpty && this.#marks.pending.length === 0) {
      const { stream } = this.#hello
      this.#finishSent = this.#socket.send({ type: 'finish', stream, nextIndex: this.#outbox.nextIndex })
    }
  }

  #lossNotice(firstIndex: number, count: number) {
    const { channels } = this.#hello
    const arrivedAtUs = Date.now() * 1000
    return encodeFrame({ firstIndex, count, channels, encoding: 'lost', arrivedAtUs, values: [] })
  }
}
