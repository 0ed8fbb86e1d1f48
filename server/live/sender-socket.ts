import type { WebSocket } from 'ws'
import type { FastifyBaseLogger } from 'fastify'
import { decodeFrame, FrameError } from '#protocol/frames'
import { PROTOCOL_VERSION, SenderMessage } from '#protocol/messages'
import type { Hello, MarkMessage, ServerToSender, StoredMark } from '#protocol/messages'
import type { SocketGuard } from '../access/socket-guard.ts'
import type { Limits } from '../config.ts'
import { ServerError } from '../errors.ts'
import type { Ingest } from '../ingest/ingest.ts'
import type { Recorder, RecorderListener } from '../ingest/recorder.ts'
import { TokenBucket } from '../ingest/token-bucket.ts'
import { keepAlive } from './socket-heartbeat.ts'
import { closeWith, errorMessage, messageReader, socketError } from './socket-messages.ts'
import { tell } from '../log/tell.ts'
import { tellRefusal } from './tell-refusal.ts'

/** Refusals after which the sender may go on. */
const NOT_FATAL: ReadonlySet<string> = new Set(['FRAME_GAP', 'FINISH_TOO_EARLY'])

/** Frames on their way to the disk before the sender has to wait. */
const MAX_WAITING_FRAMES = 500

/** So many stored frames are acknowledged at once: a sender that catches up must not wait. */
const ACK_FRAMES = 16

const readMessage = messageReader(SenderMessage)

export interface SenderParts {
  readonly ingest: Ingest
  readonly limits: Limits
  readonly log: FastifyBaseLogger
  readonly guard: SocketGuard
}

/**
 * One sender: hello, then samples in and acknowledgements out. Messages are taken in order, one
 * after the other, because hello and finish wait for the store.
 */
export class SenderSocket implements RecorderListener {
  readonly #socket: WebSocket
  readonly #ingest: Ingest
  readonly #limits: Limits
  readonly #log: FastifyBaseLogger
  readonly #guard: SocketGuard
  readonly #bucket: TokenBucket
  #recorder: Recorder | null = null
  #turn: Promise<void> = Promise.resolve()
  /** The server stops: nothing more is taken. */
  #isLeaving = false
  /** Messages behind one that waits for the store, and that one. */
  #queued = 0
  #durableIndex = 0
  /** Stored and not yet acknowledged. */
  #durableFrames = 0
  #ackTimer: NodeJS.Timeout | null = null
  #idle: NodeJS.Timeout

  constructor(socket: WebSocket, { ingest, limits, log, guard }: SenderParts) {
    this.#socket = socket
    this.#ingest = ingest
    this.#limits = limits
    this.#log = log
    this.#guard = guard
    this.#bucket = new TokenBucket(limits.framesPerS, limits.frameBurst, performance.now())
    this.#idle = setTimeout(() => socket.close(1000, 'idle'), limits.senderIdleMs).unref()
    keepAlive(socket, limits.heartbeatMs)
    socket.on('message', (data, binary) => {
      this.#idle.refresh()
      // Frames wait for nothing: when nothing is before them they are taken in this turn.
      if (binary && this.#queued === 0) this.#receiveFrame(data as Buffer)
      else this.#queue(data as Buffer, binary)
      this.#slowDown()
    })
    socket.on('close', () => {
      clearTimeout(this.#idle)
      clearTimeout(this.#ackTimer ?? undefined)
      this.#turn = this.#turn.then(() => {
        if (this.#recorder) ingest.detach(this.#recorder, this)
      })
    })
  }

  /** Acknowledges several frames together: each message costs both sides a wake-up. */
  durable(nextIndex: number): void {
    this.#durableIndex = Math.max(this.#durableIndex, nextIndex)
    this.#durableFrames++
    if (this.#durableFrames === ACK_FRAMES) setImmediate(() => this.#acknowledge())
    else this.#ackTimer ??= setTimeout(() => this.#acknowledge(), this.#limits.ackMs)
  }

  /** The server stops: what was taken is stored and acknowledged when this resolves; the rest stays with the sender. */
  async farewell(): Promise<void> {
    this.#isLeaving = true
    this.#socket.pause()
    await this.#recorder?.drained()
    this.#acknowledge()
  }

  #acknowledge(): void {
    clearTimeout(this.#ackTimer ?? undefined)
    this.#ackTimer = null
    if (this.#durableFrames === 0 || !this.#recorder) return
    this.#durableFrames = 0
    this.#send({ type: 'ack', stream: this.#recorder.stream.id, nextIndex: this.#durableIndex })
  }

  /** Before the welcome all stored marks are still to come. */
  marked(mark: StoredMark): void {
    if (this.#recorder) this.#send({ type: 'mark', mark })
  }

  failed(error: ServerError): void {
    if (error.status === 1011) tell(this.#log, 'sender.failed', { problem: error.code, err: error })
    else tellRefusal(this.#log, 'sender', error)
    if (this.#socket.readyState === this.#socket.OPEN) closeWith(this.#socket, error)
  }

  /** TCP holds the rest back: a sender with a backlog is slowed, not refused. */
  #slowDown(): void {
    const waitMs = this.#bucket.take(performance.now())
    if ((waitMs === 0 && !this.#crowded) || this.#socket.isPaused) return
    this.#socket.pause()
    const goOn = () => {
      if (this.#crowded) setTimeout(goOn, this.#limits.commitMs)
      else if (!this.#isLeaving) this.#socket.resume()
    }
    setTimeout(goOn, Math.max(waitMs, this.#limits.commitMs))
  }

  /** Too much is on its way to the disk, or waits for a finish to be through. */
  get #crowded(): boolean {
    return (this.#recorder?.waiting ?? 0) + this.#queued > MAX_WAITING_FRAMES
  }

  #queue(data: Buffer, binary: boolean): void {
    this.#queued++
    this.#turn = this.#turn.then(async () => {
      if (binary) this.#receiveFrame(data)
      else await this.#receiveText(data)
      this.#queued--
    })
  }

  #receiveFrame(data: Buffer): void {
    if (this.#isClosing) return
    try {
      this.#frame(data)
    } catch (error) {
      this.#refuse(error)
    }
  }

  async #receiveText(data: Buffer): Promise<void> {
    if (this.#isClosing) return
    try {
      await this.#message(readMessage(data))
    } catch (error) {
      this.#refuse(error)
    }
  }

  /** What was behind a fatal error is not looked at any more. */
  get #isClosing(): boolean {
    return this.#isLeaving || this.#socket.readyState !== this.#socket.OPEN
  }

  #refuse(error: unknown): void {
    const known = socketError(error)
    if (known !== error) tell(this.#log, 'sender.failed', { problem: known.code, err: error })
    if (NOT_FATAL.has(known.code)) this.#send(errorMessage(known, false))
    else this.failed(known)
  }

  #frame(data: Buffer): void {
    const recorder = this.#requireRecorder()
    let frame
    try {
      frame = decodeFrame(data)
    } catch (error) {
      if (!(error instanceof FrameError)) throw error
      throw new ServerError('FRAME_INVALID', { reason: error.message }, { cause: error })
    }
    recorder.take(frame)
  }

  async #message(message: SenderMessage): Promise<void> {
    switch (message.type) {
      case 'hello':
        return this.#hello(message)
      case 'mark':
        return this.#mark(message)
      case 'finish':
        return this.#finish(message)
      case 'ping':
        this.#send({ type: 'pong', sentAtUs: message.sentAtUs, serverTimeUs: Date.now() * 1000 })
    }
  }

  async #hello(hello: Hello): Promise<void> {
    if (this.#recorder) throw new ServerError('HELLO_TWICE')
    await this.#guard.requireSending(this.#socket, hello.session, (error) => this.failed(error))
    this.#recorder = await this.#ingest.attach(hello, this)
    this.#send({
      type: 'welcome',
      protocol: PROTOCOL_VERSION,
      stream: hello.stream,
      nextIndex: this.#recorder.durableIndex,
      serverTimeUs: Date.now() * 1000,
    })
    for (const mark of await this.#ingest.marks(hello.session)) this.#send({ type: 'mark', mark })
  }

  async #mark({ id, atS, kind, note }: MarkMessage): Promise<void> {
    const { sessionId } = this.#requireRecorder().stream
    await this.#ingest.mark(sessionId, { id, atS, kind, note: note ?? null }, { from: this })
    this.#send({ type: 'marked', id })
  }

  async #finish({ stream, nextIndex }: { stream: string; nextIndex: number }): Promise<void> {
    const recorder = this.#requireRecorder()
    if (stream !== recorder.stream.id) {
      throw new ServerError('STREAM_MISMATCH', { reason: `This socket carries ${recorder.stream.id}.` })
    }
    const samples = await this.#ingest.finish(recorder, nextIndex)
    this.#send({ type: 'finished', session: recorder.stream.sessionId, stream, samples })
  }

  #requireRecorder(): Recorder {
    if (!this.#recorder) throw new ServerError('HELLO_FIRST')
    return this.#recorder
  }

  #send(message: ServerToSender): void {
    if (this.#socket.readyState === this.#socket.OPEN) this.#socket.send(JSON.stringify(message))
  }
}
