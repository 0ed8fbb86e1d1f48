import type { MarkKind } from '#signal/trace/trace'
import type { Harness, HarnessHandlers } from './harness'
import { LiveSender } from './live-sender'
import { newMarkId } from './mark-queue'
import { onPromisingMoment, socketUrl } from './socket'
import type { SocketStatus } from './socket'

export type RecordingPhase = 'starting' | 'recording' | 'finishing' | 'finished' | 'failed'

/** How often the numbers shown about the outbox are refreshed at most, ms. */
const PROGRESS_EVERY_MS = 250

/**
 * A session recorded by this browser. It lives in the app, not in a screen, so that moving between
 * screens does not end it; the harness and the sender hold the samples, outside runes.
 */
export class Recording {
  readonly sessionId: string
  readonly dogId: string
  phase = $state<RecordingPhase>('starting')
  status = $state<SocketStatus>('connecting')
  error = $state<string | null>(null)
  /** Seconds of signal the server has not confirmed yet. */
  unacknowledgedS = $state(0)
  lostSamples = $state(0)
  recordedS = $state(0)
  /** When the quiet stand began and ended, seconds of the stream. */
  quietStandFromS = $state<number | null>(null)
  quietStandToS = $state<number | null>(null)
  harnessEnded = $state(false)

  readonly #harness: Harness
  #sender: LiveSender | null = null
  #removeListeners: () => void = () => {}
  #shownAtMs = -Infinity

  constructor(session: { id: string; dogId: string }, createHarness: (handlers: HarnessHandlers) => Harness) {
    this.sessionId = session.id
    this.dogId = session.dogId
    this.#harness = createHarness({
      onReady: ({ rateHz, channels, startedAtUs }) => {
        const stream = { session: session.id, stream: newMarkId(), rateHz, channels, startedAtUs }
        this.#sender = this.#connect(stream)
        this.phase = 'recording'
      },
      onFrame: (frame) => {
        if (this.phase !== 'recording' || !this.#sender) return
        this.#sender.push(frame)
        this.#showProgress((frame.firstIndex + frame.count) / this.#rateHz)
      },
      onMark: (mark) => this.mark(mark.kind, mark.atS),
      onEnd: () => (this.harnessEnded = true),
      onError: (message) => this.#fail(message),
    })
  }

  #rateHz = 1

  get active() {
    return this.phase === 'starting' || this.phase === 'recording' || this.phase === 'finishing'
  }

  start() {
    this.#harness.start()
  }

  mark(kind: MarkKind, atS: number) {
    if (this.phase !== 'recording') return
    if (kind === 'quiet-stand-start') this.quietStandFromS = atS
    if (kind === 'quiet-stand-end') this.quietStandToS = atS
    this.#sender?.mark(kind, atS)
  }

  /** Stops the harness and waits until everything is stored. */
  finish() {
    if (this.phase !== 'recording') return
    this.phase = 'finishing'
    this.#harness.stop()
    this.#sender?.finish()
  }

  retryNow() {
    this.#sender?.retryNow()
  }

  #connect(stream: ConstructorParameters<typeof LiveSender>[1]): LiveSender {
    this.#rateHz = stream.rateHz
    const sender = new LiveSender(socketUrl('/api/live/send'), stream, {
      onStatus: (status) => (this.status = status),
      onProgress: () => this.#showProgress(this.recordedS),
      onFinished: () => this.#end('finished'),
      onRefused: (message) => this.#fail(message),
    })
    this.#removeListeners = onPromisingMoment(() => sender.retryNow())
    sender.start()
    return sender
  }

  #showProgress(recordedS: number) {
    const nowMs = performance.now()
    if (nowMs - this.#shownAtMs < PROGRESS_EVERY_MS && this.phase === 'recording') return
    this.#shownAtMs = nowMs
    this.recordedS = recordedS
    this.unacknowledgedS = this.#sender?.unacknowledgedS ?? 0
    this.lostSamples = this.#sender?.lostSamples ?? 0
  }

  #fail(message: string) {
    this.error = message
    this.#end('failed')
  }

  #end(phase: 'finished' | 'failed') {
    this.phase = phase
    this.#harness.stop()
    this.#sender?.close()
    this.#removeListeners()
  }
}

/** The recording of this browser tab, at most one at a time. */
export class RecordingDesk {
  current = $state.raw<Recording | null>(null)

  begin(recording: Recording) {
    if (this.current?.active) throw new Error('This browser is already recording a session.')
    this.current = recording
    recording.start()
  }
}
