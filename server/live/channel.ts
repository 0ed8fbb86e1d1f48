import type { LiveStrip, LiveWindow } from '#signal/live/live-types'
import type { ServerToViewer, Snapshot } from '#protocol/messages'
import { StripHistory } from '#protocol/strip-history'
import type { Viewer } from './viewer.ts'

/** Shortest time between two deliveries of windows, ms. */
const PACE_MS = 50
/** While the sender catches up, viewers get the session so far this often, ms. */
const CATCH_UP_PACE_MS = 1000
/** Signal makes 10 windows a second; well above that the sender is catching up on a backlog. */
const CATCH_UP_WINDOWS_PER_S = 20
/** Windows that may come at once after an ordinary stall. */
const WINDOW_BURST = 4
/** More waiting windows than this are not kept: a backlog is told as a snapshot anyway. */
const MAX_WAITING_WINDOWS = 32

/** All viewers of one session. Windows are paced; everything else goes out at once and in order. */
export class Channel {
  readonly viewers = new Set<Viewer>()
  /** Null while no stream of the session is known. */
  picture: (() => Snapshot) | null = null
  #senderConnected = false
  #windows: LiveWindow[] = []
  readonly #strips = new StripHistory()
  #arrivedAtUs = 0
  #flushedAtMs = performance.now()
  #paceMs = PACE_MS
  #timer: NodeJS.Timeout | null = null

  get senderConnected(): boolean {
    return this.#senderConnected
  }

  join(viewer: Viewer): void {
    // Windows still waiting are part of the snapshot: the others get them first.
    this.flush()
    this.viewers.add(viewer)
    if (this.picture) viewer.tell(this.picture())
    viewer.tell({ type: 'sender', connected: this.#senderConnected })
  }

  sender(connected: boolean): void {
    this.#senderConnected = connected
    this.broadcast({ type: 'sender', connected })
  }

  window(window: LiveWindow): void {
    this.#windows.push(window)
    if (this.#windows.length > MAX_WAITING_WINDOWS) this.#windows.shift()
  }

  strip(strip: LiveStrip): void {
    this.#strips.add(strip)
  }

  /** After a frame: delivers its windows, at the pace. */
  samplesArrived(arrivedAtUs: number): void {
    this.#arrivedAtUs = arrivedAtUs
    if (this.#timer || this.#windows.length === 0) return
    const waitMs = this.#flushedAtMs + this.#paceMs - performance.now()
    if (waitMs <= 0) this.flush()
    else this.#timer = setTimeout(() => this.flush(), waitMs)
  }

  /** Sends to every viewer, after the windows that were before it. */
  broadcast(message: ServerToViewer): void {
    this.flush()
    this.#sendAll(JSON.stringify(message))
  }

  /** Tells everyone the session so far anew. */
  refresh(): void {
    this.#windows = []
    this.#strips.clear()
    if (this.picture) this.#sendAll(JSON.stringify(this.picture()))
  }

  flush(): void {
    if (this.#timer) clearTimeout(this.#timer)
    this.#timer = null
    const windows = this.#windows
    if (windows.length === 0) return
    const nowMs = performance.now()
    const usual = WINDOW_BURST + ((nowMs - this.#flushedAtMs) / 1000) * CATCH_UP_WINDOWS_PER_S
    const catchingUp = windows.length >= Math.min(usual, MAX_WAITING_WINDOWS)
    this.#flushedAtMs = nowMs
    this.#paceMs = catchingUp ? CATCH_UP_PACE_MS : PACE_MS
    if (catchingUp) return this.refresh()
    const strips = this.#strips.newest()
    this.#windows = []
    this.#strips.clear()
    for (const [i, window] of windows.entries()) {
      const last = i === windows.length - 1
      this.#sendAll(
        JSON.stringify({
          type: 'window',
          window,
          strips: last ? strips : [],
          sampleArrivedAtUs: this.#arrivedAtUs,
          serverTimeUs: Date.now() * 1000,
        } satisfies ServerToViewer),
      )
    }
  }

  #sendAll(text: string): void {
    let snapshot: string | null = null
    const lazySnapshot = () => (snapshot ??= this.picture && JSON.stringify(this.picture()))
    for (const viewer of this.viewers) viewer.send(text, lazySnapshot)
  }
}
