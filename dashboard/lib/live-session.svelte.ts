import type { PlannedExercise, ServerToViewer, Snapshot, StoredMark } from '#protocol/messages'
import type {
  LiveHold,
  LiveReference,
  LiveState,
  LiveStop,
  LiveStrip,
  LiveWindow,
} from '#signal/live/live-types'
import type { StopLimits } from '#signal/live/stop-limits'
import type { MarkKind } from '#signal/trace/trace'
import type { LiveLink } from './live-link'
import { MarkQueue } from './mark-queue'
import { SampleRing } from './ring'
import type { SocketStatus } from './socket'

/** Without a window for this long the screen says "no signal". */
export const STALE_AFTER_MS = 1500
/** What the strip shows, s. */
export const STRIP_S = 30
/** Finest waveform grid kept; the protocol sends at least 20 Hz. */
const MAX_STRIP_RATE_HZ = 200
const CHECK_MS = 250
/** Windows averaged for the numbers on the screen: half a second. */
const READOUT_WINDOWS = 5

/** A server that thins its history keeps a row every few seconds. */
const THINNED_S = 8

/** Numbers a person reads: averaged, so that they can be read at all. */
export interface Readout {
  swayMs2: number | null
  tremorMs2: number | null
}

/**
 * The reactive face of a session that is being recorded, as every viewer sees it. The waveform
 * stays in a ring outside runes; windows replace one raw snapshot at most ten times a second.
 */
export class LiveSession {
  status = $state<SocketStatus>('connecting')
  joined = $state(false)
  dogName = $state('')
  /** Whether ML and CC are known, or only two horizontal directions. */
  headingResolved = $state(false)
  window = $state.raw<LiveWindow | null>(null)
  reference = $state.raw<LiveReference | null>(null)
  holds = $state.raw<readonly LiveHold[]>([])
  marks = $state.raw<readonly StoredMark[]>([])
  /** Marks made here and not yet confirmed; shown as if they were, since they are not lost. */
  unconfirmed = $state.raw<readonly StoredMark[]>([])
  /** What the plan of the day asks for; null when the session follows none. */
  planned = $state.raw<PlannedExercise | null>(null)
  limits = $state.raw<StopLimits | null>(null)
  /** Limits that were passed, in order. */
  stops = $state.raw<readonly LiveStop[]>([])
  senderConnected = $state(true)
  ended = $state(false)
  refused = $state<string | null>(null)
  stale = $state(true)
  /** Newest sample at the sender → at the server, and there and back between server and here. */
  sensorToServerMs = $state<number | null>(null)
  roundTripMs = $state<number | null>(null)
  /** Sway of the session so far, one value per second of the stream; null where nothing is known. */
  history = $state.raw<readonly (number | null)[]>([])

  readonly ring = new SampleRing(STRIP_S * MAX_STRIP_RATE_HZ, 2)
  stripStepS = 0.05

  readonly #link: LiveLink
  readonly #queue = new MarkQueue()
  readonly #nowMs: () => number
  #lastWindowMs = -Infinity
  #recent: LiveWindow[] = []
  #timer: ReturnType<typeof setInterval> | undefined

  /** All marks in order of time, those not yet confirmed included. */
  readonly allMarks: readonly StoredMark[] = $derived(
    [...this.marks, ...this.unconfirmed].sort((a, b) => a.atS - b.atS),
  )

  /** What to show as the state: the detector's word, unless nothing recent supports it. */
  readonly state: LiveState = $derived.by(() => {
    if (!this.joined || this.stale || !this.senderConnected) return 'no signal'
    return this.window?.state ?? 'no signal'
  })

  /** True with hands on, false with hands off, null until somebody says. */
  readonly handsOn: boolean | null = $derived.by(() => {
    const last = this.allMarks.findLast((mark) => mark.kind.startsWith('support-'))
    return last ? last.kind === 'support-on' : null
  })

  /** True while a quiet stand is under way: begun, not ended, and no repetition since. */
  readonly quietStand: boolean = $derived.by(() => {
    const bounds = this.allMarks.filter((mark) => /^(quiet-stand|repetition-start)/.test(mark.kind))
    return bounds.at(-1)?.kind === 'quiet-stand-start'
  })

  /** Repetitions begun so far, and whether one is under way. */
  readonly repetition: { count: number; running: boolean } = $derived.by(() => {
    const marks = this.allMarks.filter((mark) => mark.kind.startsWith('repetition-'))
    return {
      count: marks.filter((mark) => mark.kind === 'repetition-start').length,
      running: marks.at(-1)?.kind === 'repetition-start',
    }
  })

  constructor(link: LiveLink, options: { nowMs?: () => number } = {}) {
    this.#link = link
    this.#nowMs = options.nowMs ?? (() => performance.now())
  }

  /** True when this device's own analyser is shown: it goes on without a network. */
  get local() {
    return this.#link.local
  }

  start() {
    this.#link.open({
      onOpen: () => this.#flushMarks(),
      onMessage: (message) => this.#receive(message),
      onStatus: (status) => (this.status = status),
      onRefused: (message) => (this.refused = message),
    })
    this.#timer = setInterval(() => {
      this.stale = this.#nowMs() - this.#lastWindowMs > STALE_AFTER_MS
    }, CHECK_MS)
  }

  close() {
    clearInterval(this.#timer)
    this.#link.close()
  }

  retryNow() {
    this.#link.retryNow()
  }

  /** Seconds of the stream at this instant: the newest window plus the time since it came. */
  nowS(): number {
    if (!this.window) return 0
    const sinceMs = Math.min(this.#nowMs() - this.#lastWindowMs, STALE_AFTER_MS)
    const underwayMs = Math.max(0, Math.min(this.sensorToServerMs ?? 0, STALE_AFTER_MS))
    return this.window.endS + (Math.max(0, sinceMs) + underwayMs) / 1000
  }

  /** Sway and tremor now, averaged over the newest half second; null without a signal. */
  readout(): Readout {
    if (this.state === 'no signal') return { swayMs2: null, tremorMs2: null }
    return {
      swayMs2: meanOf(this.#recent.map((window) => window.swayMs2)),
      tremorMs2: meanOf(this.#recent.map((window) => window.tremorMs2)),
    }
  }

  /** Adds a mark, now unless `atS` says when; kept and sent again until the server confirms it. */
  mark(kind: MarkKind, { atS = this.nowS(), note }: { atS?: number; note?: string } = {}) {
    const mark = this.#queue.add(kind, atS, note)
    this.#showUnconfirmed()
    this.#link.send(mark)
  }

  #flushMarks() {
    for (const mark of this.#queue.pending) this.#link.send(mark)
    this.#link.send({ type: 'ping', sentAtUs: Math.round(performance.now() * 1000) })
  }

  #showUnconfirmed() {
    this.unconfirmed = this.#queue.pending.map(({ id, atS, kind, note = null }) => ({
      id,
      atS,
      kind,
      note,
    }))
  }

  #receive(message: ServerToViewer) {
    switch (message.type) {
      case 'snapshot':
        this.#restore(message)
        break
      case 'window':
        this.#takeWindow(message.window, message.strips)
        this.sensorToServerMs = (message.serverTimeUs - message.sampleArrivedAtUs) / 1000
        break
      case 'hold':
        this.holds = [...this.holds.filter((hold) => hold.id !== message.hold.id), message.hold].sort(
          (a, b) => a.id - b.id,
        )
        break
      case 'reference':
        // Holds are found again against a new reference, and told again from number 0.
        this.reference = message.reference
        this.holds = []
        this.stops = []
        break
      case 'stop':
        this.stops = [...this.stops.filter(({ reason }) => reason !== message.stop.reason), message.stop]
        break
      case 'mark':
        this.#addMark(message.mark)
        break
      case 'marked':
        this.#confirm(message.id)
        break
      case 'sender':
        this.senderConnected = message.connected
        break
      case 'ended':
        this.ended = true
        this.close()
        break
      case 'pong':
        this.roundTripMs = performance.now() - message.sentAtUs / 1000
        break
      case 'error':
        // The link keeps it: the close code that follows a fatal error decides whether to come back.
        break
    }
  }

  #restore(snapshot: Snapshot) {
    this.joined = true
    this.dogName = snapshot.dogName
    this.headingResolved = snapshot.headingResolved
    this.reference = snapshot.reference
    this.holds = snapshot.holds
    this.marks = snapshot.marks
    this.planned = snapshot.planned
    this.limits = snapshot.limits
    this.stops = snapshot.stops
    for (const mark of snapshot.marks) this.#queue.confirm(mark.id)
    this.#showUnconfirmed()
    this.history = bySecond(snapshot.history)
    this.ring.clear()
    for (const strip of snapshot.strips) this.#takeStrip(strip)
    // The newest window of a silent stream is history: the watchdog waits for a live one.
    this.window = snapshot.window
  }

  #takeWindow(window: LiveWindow, strips: readonly LiveStrip[]) {
    this.#lastWindowMs = this.#nowMs()
    this.stale = false
    this.senderConnected = true
    this.window = window
    const second = Math.floor(window.endS)
    if (second >= this.history.length) this.history = extended(this.history, second, window.swayMs2)
    this.#recent = [...this.#recent, window].slice(-READOUT_WINDOWS)
    for (const strip of strips) this.#takeStrip(strip)
  }

  #takeStrip(strip: LiveStrip) {
    if (strip.ml.length === 0) return
    this.stripStepS = strip.stepS
    this.ring.write(Math.round(strip.fromS / strip.stepS), [strip.ml, strip.cc])
  }

  #addMark(mark: StoredMark) {
    this.marks = [...this.marks.filter((other) => other.id !== mark.id), mark]
    this.#confirm(mark.id)
  }

  #confirm(id: string) {
    const confirmed = this.unconfirmed.find((mark) => mark.id === id)
    if (confirmed && !this.marks.some((mark) => mark.id === id)) this.marks = [...this.marks, confirmed]
    this.#queue.confirm(id)
    this.#showUnconfirmed()
  }
}

/** History rows, perhaps thinned to less than one a second, as one value per second. */
function bySecond(rows: Snapshot['history']): (number | null)[] {
  let history: readonly (number | null)[] = []
  for (const [endS, swayMs2] of rows) {
    const second = Math.floor(endS)
    // A thinned row stands for the seconds it covers; a longer hole stays a hole.
    while (second - history.length > 0 && second - history.length < THINNED_S) history = [...history, swayMs2]
    history = extended(history, second, swayMs2)
  }
  return [...history]
}

function extended(history: readonly (number | null)[], second: number, value: number | null) {
  const missing = Math.max(0, second - history.length)
  return [...history, ...Array.from({ length: missing }, () => null), value]
}

function meanOf(values: readonly (number | null)[]): number | null {
  const known = values.filter((value): value is number => value !== null)
  return known.length === 0 ? null : known.reduce((sum, value) => sum + value, 0) / known.length
}
