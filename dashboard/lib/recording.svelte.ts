import type { MarkMessage, ServerToViewer } from '#protocol/messages'
import type { NewSession, Plan } from '#protocol/resources'
import type { Mark, MarkKind } from '#signal/trace/trace'
import { Anchor } from '../recorder/anchor'
import type { Feed } from '../recorder/feed.svelte'
import type { FromRecorder } from '../recorder/messages'
import { streamRateHz } from '../recorder/rate-meter'
import { openRecorder } from '../recorder/recorder-port'
import { refusalWords } from '../recorder/refusal-words'
import type { OpenRecorder, RecorderPort } from '../recorder/recorder-port'
import type { SourcePacket } from '../sources/source'
import { newMarkId } from './mark-queue'
import { onPromisingMoment } from './socket'
import type { SocketStatus } from './socket'
import { ScreenWakeLock } from './wake-lock.svelte'

export type RecordingPhase = 'starting' | 'recording' | 'finishing' | 'finished' | 'failed'

export interface RecordingParts {
  /** Being watched already; the recording begins with its next packet. */
  feed: Feed
  session: NewSession & { id: string }
  dogName: string
  /** The plan of the day, for the limits of the stop cue. */
  plan: Plan | null
  /** Half of what that plan allows is asked for today. */
  cutBack?: boolean
}

/** A mark set now lies at most this far behind the newest sample, s: longer means there is no signal. */
const LONGEST_SILENCE_S = 1.5

/**
 * A session recorded by this browser. It lives in the app, not in a screen, so that moving between
 * screens does not end it. The samples go to the recorder, a Worker that keeps them on this device
 * until the server has them; here are only the numbers to show.
 */
export class Recording {
  readonly sessionId: string
  readonly dogId: string
  readonly dogName: string
  readonly plan: Plan | null
  readonly cutBack: boolean
  readonly feed: Feed
  readonly wakeLock = new ScreenWakeLock()
  phase = $state<RecordingPhase>('starting')
  /** Of the connection to the server; the recording goes on without one. */
  status = $state<SocketStatus>('connecting')
  error = $state<string | null>(null)
  /** The server has no such session any more: it was deleted while it was recorded. */
  deleted = $state(false)
  /** Seconds of signal the server has not confirmed yet. */
  unacknowledgedS = $state(0)
  /** Whether those are safe on this device, or only in memory. */
  keptOnDevice = $state(true)
  lostSamples = $state(0)
  recordedS = $state(0)
  /** How much faster than the stream's rate the sensor runs, ppm; null in the first seconds. */
  driftPpm = $state<number | null>(null)
  /** When the quiet stand began and ended, seconds of the stream. */
  quietStandFromS = $state<number | null>(null)
  quietStandToS = $state<number | null>(null)
  /** The source has nothing more to give. */
  sourceEnded = $state(false)
  /** Of the stream, Hz; null until it began. */
  rateHz = $state<number | null>(null)

  readonly #session: NewSession & { id: string }
  readonly #recorder: RecorderPort
  readonly #serverUrl: string
  #viewers: readonly ((message: ServerToViewer) => void)[] = []
  readonly #anchor = new Anchor()
  #baseIndex = 0
  #newest: { index: number; arrivedAtMs: number } | null = null
  #unsubscribe = () => {}
  #removeListeners = () => {}

  constructor(
    { feed, session, dogName, plan, cutBack = false }: RecordingParts,
    { open = openRecorder, serverUrl = location.origin }: { open?: OpenRecorder; serverUrl?: string } = {},
  ) {
    this.feed = feed
    this.sessionId = session.id
    this.dogId = session.dogId
    this.dogName = dogName
    this.plan = plan
    this.cutBack = cutBack
    this.#session = session
    this.#serverUrl = serverUrl
    this.#recorder = open((message) => this.#receive(message))
  }

  get active() {
    return this.phase === 'starting' || this.phase === 'recording' || this.phase === 'finishing'
  }

  start() {
    this.wakeLock.hold()
    void keepStorage()
    this.#removeListeners = onPromisingMoment(() => this.retryNow())
    this.#unsubscribe = this.feed.subscribe({
      onPacket: (packet) => this.#take(packet),
      onMark: (mark) => this.#takeSourceMark(mark),
      onEnd: () => (this.sourceEnded = true),
    })
    this.feed.source.recordingBegins?.()
  }

  /** Seconds of the stream at this instant. */
  nowS(): number {
    if (!this.#newest || this.rateHz === null) return 0
    const sinceS = (performance.now() - this.#newest.arrivedAtMs) / 1000
    return (this.#newest.index + 1) / this.rateHz + Math.min(LONGEST_SILENCE_S, Math.max(0, sinceS))
  }

  /** Adds a mark, now unless `atS` (seconds of the stream) says when. */
  mark(kind: MarkKind, atS = this.nowS(), note?: string) {
    this.addMark({ type: 'mark', id: newMarkId(), atS, kind, ...(note !== undefined && { note }) })
  }

  /** The same with an id of the caller's: once more changes nothing. */
  addMark(mark: MarkMessage) {
    if (this.phase !== 'recording') return
    if (mark.kind === 'quiet-stand-start') {
      this.quietStandFromS = mark.atS
      this.quietStandToS = null
    }
    if (mark.kind === 'quiet-stand-end') this.quietStandToS = mark.atS
    this.#recorder.post({ ...mark, atS: Math.max(0, mark.atS) })
  }

  /** Stops the sensor and waits until everything is stored; without a network, until there is one. */
  finish() {
    if (this.phase === 'starting') {
      this.error = 'The recording was ended before the sensor sent anything.'
      this.#end('failed')
      return
    }
    if (this.phase !== 'recording') return
    this.phase = 'finishing'
    this.#unsubscribe()
    this.feed.stop()
    this.#recorder.post({ type: 'finish' })
  }

  /** Tries at once to reach the server. */
  retryNow() {
    this.#recorder.post({ type: 'retry' })
  }

  /** Asks the person for the sensor again; call it inside a tap. */
  reconnect() {
    this.feed.reconnect()
  }

  /** Shows the session so far and what follows, as every viewer of it gets it; returns how to end that. */
  watch(viewer: (message: ServerToViewer) => void): () => void {
    this.#viewers = [...this.#viewers, viewer]
    this.#recorder.post({ type: 'watch' })
    return () => (this.#viewers = this.#viewers.filter((other) => other !== viewer))
  }

  #begin(packet: SourcePacket) {
    const { info } = this.feed
    if (!info) throw new Error('A source tells what it is (onInfo) before its packets.')
    const rateHz = streamRateHz(info.nominalRateHz, this.feed.measuredRateHz)
    this.#baseIndex = packet.firstIndex
    this.rateHz = rateHz
    this.phase = 'recording'
    this.#recorder.post({
      type: 'begin',
      serverUrl: this.#serverUrl,
      recording: {
        session: {
          ...this.#session,
          mount: this.#session.mount ?? info.mount,
          sensorDescription: this.#session.sensorDescription ?? info.description,
        },
        dogName: this.dogName,
        stream: newMarkId(),
        rateHz,
        channels: info.channels,
        resolutionMs2: info.resolutionMs2,
        scale: info.scale,
        startedAtUs: this.#anchor.utcUs(this.feed.arrivalMsOf(packet.firstIndex)),
        plan: this.plan,
        cutBack: this.cutBack,
      },
    })
    for (const { kind, note } of this.feed.marksInForce()) this.mark(kind, 0, note)
  }

  #take(packet: SourcePacket) {
    if (this.phase === 'starting') this.#begin(packet)
    if (this.phase !== 'recording') return
    const firstIndex = packet.firstIndex - this.#baseIndex
    this.#newest = { index: firstIndex + packet.values[0].length - 1, arrivedAtMs: packet.arrivedAtMs }
    this.#recorder.post({
      type: 'samples',
      firstIndex,
      arrivedAtUs: this.#anchor.utcUs(packet.arrivedAtMs),
      values: packet.values,
    })
  }

  /** Marks of the source are in seconds of its own, at its nominal rate, since its sample 0. */
  #takeSourceMark({ kind, atS, note }: Mark) {
    const { info } = this.feed
    if (this.phase !== 'recording' || !info || this.rateHz === null) return
    this.mark(kind, (atS * info.nominalRateHz - this.#baseIndex) / this.rateHz, note)
  }

  #receive(message: FromRecorder) {
    switch (message.type) {
      case 'view':
        for (const viewer of this.#viewers) viewer(message.message)
        break
      case 'progress':
        this.status = message.progress.status
        this.unacknowledgedS = message.progress.unacknowledgedS
        this.keptOnDevice = message.progress.keptOnDevice
        this.lostSamples = message.progress.lostSamples
        this.recordedS = message.progress.recordedS
        this.driftPpm = message.progress.driftPpm
        break
      case 'finished':
        this.#end('finished')
        break
      case 'refused':
        this.deleted = message.code === 'SESSION_DELETED' || message.code === 'SESSION_UNKNOWN'
        this.error = refusalWords(message)
        this.#end('failed')
        break
      case 'failed':
        this.error = message.message
        this.#end('failed')
        break
    }
  }

  #end(phase: 'finished' | 'failed') {
    if (!this.active) return
    this.phase = phase
    this.#unsubscribe()
    this.#removeListeners()
    this.feed.stop()
    this.wakeLock.release()
    this.#recorder.close()
    if (phase === 'finished') {
      for (const viewer of this.#viewers) viewer({ type: 'ended', session: this.sessionId })
    }
  }
}

/** Asks the browser not to clear this site's storage when space is short; it may say no without asking. */
async function keepStorage() {
  const { storage } = navigator as Partial<Navigator>
  await storage?.persist?.()
}
