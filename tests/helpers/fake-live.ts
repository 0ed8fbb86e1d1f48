import type { Page, WebSocketRoute } from 'playwright-core'
import type { MarkMessage, ServerToViewer, Snapshot, ViewerMessage } from '#protocol/messages'
import type { LiveState, LiveStrip, LiveWindow } from '#signal/live/live-types'

/** How the fake stream looks at the moment; every window sent is made from it. */
export interface FakeNow {
  state: LiveState
  holdS: number
  swayMs2: number | null
  tremorMs2: number | null
}

const WINDOWS_PER_S = 10
export const FLOOR_MS2 = 0.02

/** What a viewer sees first: plan, floor baseline, hands off in the second repetition. */
export function anySnapshot(session: string, extra: Partial<Snapshot> = {}): Snapshot {
  return {
    type: 'snapshot',
    protocol: 1,
    session,
    dogName: 'Juniper',
    rateHz: 200,
    startedAtUs: 1_772_386_200_000_000,
    headingResolved: true,
    receivedS: 60,
    reference: { fromS: 2, toS: 12, swayMs2: FLOOR_MS2, gravityMs2: 9.81 },
    holds: [
      { id: 0, fromS: 2, toS: 12, endedBy: 'step' },
      { id: 1, fromS: 25, toS: 33, endedBy: 'step' },
    ],
    marks: [
      { id: 'm1', atS: 2, kind: 'quiet-stand-start', note: null },
      { id: 'm2', atS: 12, kind: 'quiet-stand-end', note: null },
      { id: 'm3', atS: 22, kind: 'repetition-start', note: null },
      { id: 'm4', atS: 35, kind: 'repetition-end', note: null },
      { id: 'm5', atS: 50, kind: 'repetition-start', note: null },
      { id: 'm6', atS: 52, kind: 'support-off', note: null },
    ],
    window: null,
    history: Array.from({ length: 60 }, (_, s) => [s + 1, FLOOR_MS2 * (1 + (s % 7) / 3), 0.01]),
    strips: [],
    planned: { planVersion: 2, exercise: 'stand on foam pad', holdTargetS: 8, repetitions: 3 },
    limits: {
      sessionCapS: 300,
      maxRepetitions: 3,
      swayRatio: 1.5,
      holdRatio: 0.5,
      supportRise: 0.25,
      basis: 'plan version 2',
    },
    stops: [],
    ...extra,
  }
}

/**
 * A server under the test's control, in place of the real one for one session and one page: the
 * summary over HTTP and the viewer's socket, ten windows a second with a waveform of `stripHz`.
 */
export class FakeLive {
  readonly marks: MarkMessage[] = []
  now: FakeNow = { state: 'steady', holdS: 4.2, swayMs2: 2.4 * FLOOR_MS2, tremorMs2: 0.012 }
  sending = true
  #socket: WebSocketRoute | null = null
  #timer: ReturnType<typeof setInterval> | undefined
  #window = 600
  readonly #snapshot: Snapshot
  readonly #stripHz: number

  constructor(snapshot: Snapshot, stripHz = 20) {
    this.#snapshot = snapshot
    this.#stripHz = stripHz
  }

  async install(page: Page, sensor = 'bluetooth'): Promise<void> {
    const { session } = this.#snapshot
    await page.route(`**/api/sessions/${session}`, (route) =>
      route.fulfill({
        json: { id: session, dogId: 'd', dogName: 'Juniper', sensor, mount: 'x=cranial,y=left' },
      }),
    )
    await page.routeWebSocket(/\/api\/live\/watch/, (socket) => {
      this.#socket = socket
      socket.onMessage((text) => this.#take(JSON.parse(text.toString()) as ViewerMessage))
      socket.onClose(() => clearInterval(this.#timer))
      this.send(this.#snapshot)
      clearInterval(this.#timer)
      this.#timer = setInterval(() => this.#step(), 1000 / WINDOWS_PER_S)
    })
    page.once('close', () => clearInterval(this.#timer))
  }

  send(message: ServerToViewer) {
    this.#socket?.send(JSON.stringify(message))
  }

  #take(message: ViewerMessage) {
    if (message.type === 'ping') {
      this.send({ type: 'pong', sentAtUs: message.sentAtUs, serverTimeUs: Date.now() * 1000 })
      return
    }
    this.marks.push(message)
    const { id, atS, kind, note = null } = message
    this.send({ type: 'marked', id })
    this.send({ type: 'mark', mark: { id, atS, kind, note } })
  }

  #step() {
    if (!this.sending) return
    const index = this.#window++
    const window: LiveWindow = {
      index,
      endS: index / WINDOWS_PER_S + 1,
      motion: 0.4,
      tiltDeg: 1,
      coverage: 1,
      ...this.now,
    }
    const nowUs = Date.now() * 1000
    this.send({
      type: 'window',
      window,
      strips: [this.#strip(window.endS - 1 / WINDOWS_PER_S)],
      sampleArrivedAtUs: nowUs - 60_000,
      serverTimeUs: nowUs,
    })
  }

  #strip(fromS: number): LiveStrip {
    const count = Math.round(this.#stripHz / WINDOWS_PER_S)
    const stepS = 1 / this.#stripHz
    const at = (k: number) => fromS + k * stepS
    const wave = (s: number, hz: number) =>
      2.5 * FLOOR_MS2 * (Math.sin(2 * Math.PI * hz * s) + 0.4 * Math.sin(17 * s))
    return {
      fromS,
      stepS,
      ml: Array.from({ length: count }, (_, k) => wave(at(k), 0.7)),
      cc: Array.from({ length: count }, (_, k) => wave(at(k) + 1, 0.45)),
    }
  }
}
