import type { LiveHold, LiveReference, LiveStop, LiveStrip, LiveWindow } from '#signal/live/live-types'
import type { PROTOCOL_VERSION, Snapshot, StoredMark } from './messages.ts'
import { StripHistory } from './strip-history.ts'

/** Types only are imported: this runs in the recorder of the browser, where no schema library goes. */
const PROTOCOL: typeof PROTOCOL_VERSION = 1

/** Above this many rows of history every second one goes. */
const MAX_HISTORY_ROWS = 7200

export interface SessionTitle {
  readonly session: string
  readonly dogName: string
  readonly rateHz: number
  readonly startedAtUs: number
  readonly headingResolved: boolean
  readonly planned: Snapshot['planned']
  readonly limits: Snapshot['limits']
}

/** The session so far, kept small: what a viewer that joins late needs to see what others saw. */
export class SessionPicture {
  readonly #title: SessionTitle
  readonly #holds = new Map<number, LiveHold>()
  readonly #marks = new Map<string, StoredMark>()
  #stops: LiveStop[] = []
  #reference: LiveReference | null = null
  #window: LiveWindow | null = null
  readonly #strips = new StripHistory()
  #history: Snapshot['history'] = []
  #historyStepS = 1

  constructor(title: SessionTitle, marks: readonly StoredMark[]) {
    this.#title = title
    for (const mark of marks) this.#marks.set(mark.id, mark)
  }

  addWindow(window: LiveWindow): void {
    this.#window = window
    const lastS = this.#history.at(-1)?.[0] ?? -Infinity
    // Half a hop of slack: window ends are tenths of a second in floating point.
    if (window.endS - lastS < this.#historyStepS - 0.05) return
    this.#history.push([window.endS, window.swayMs2, window.tremorMs2])
    if (this.#history.length <= MAX_HISTORY_ROWS) return
    this.#history = this.#history.filter((_, i) => i % 2 === 0)
    this.#historyStepS *= 2
  }

  addHold(hold: LiveHold): void {
    this.#holds.set(hold.id, hold)
  }

  addStop(stop: LiveStop): void {
    this.#stops.push(stop)
  }

  /** A new reference: holds and stops are found again and told again, holds numbered from 0. */
  setReference(reference: LiveReference): void {
    this.#reference = reference
    this.#holds.clear()
    this.#stops = []
  }

  addStrip(strip: LiveStrip): void {
    this.#strips.add(strip)
  }

  addMark(mark: StoredMark): void {
    this.#marks.set(mark.id, mark)
  }

  snapshot(receivedS: number): Snapshot {
    return {
      type: 'snapshot',
      protocol: PROTOCOL,
      ...this.#title,
      receivedS,
      reference: this.#reference,
      holds: [...this.#holds.values()],
      marks: [...this.#marks.values()].sort((a, b) => a.atS - b.atS),
      window: this.#window,
      history: this.#history,
      strips: this.#strips.newest(),
      stops: [...this.#stops],
    }
  }
}
