import { cutBackPlan } from '#protocol/cut-back'
import type { ServerToViewer, StoredMark } from '#protocol/messages'
import { plannedExerciseOf, stopLimitsOf } from '#protocol/plan-limits'
import { SessionPicture } from '#protocol/session-picture'
import { StripHistory } from '#protocol/strip-history'
import { LivePipeline } from '#signal/live/pipeline'
import { COMMON_PRACTICE_STOP_LIMITS } from '#signal/live/stop-limits'
import type { LiveWindow } from '#signal/live/live-types'
import { parseMount } from '#signal/mount/mount'
import type { Anchor } from './anchor'
import type { RecordingPlan } from './messages'

/** More windows at once than this are a backlog: told as the session so far. */
const WINDOW_BURST = 12

/**
 * The live analyser of this device: gives what a viewer of the session would get from the server,
 * with or without a network.
 */
export class LocalAnalyser {
  readonly #rateHz: number
  readonly #tell: (message: ServerToViewer) => void
  readonly #anchor: Anchor
  readonly #pipeline: LivePipeline
  readonly #picture: SessionPicture
  readonly #known = new Set<string>()
  /** Marks beyond the samples so far: the analyser wants a mark after the samples before it. */
  #marksAhead: StoredMark[] = []
  #windows: LiveWindow[] = []
  readonly #strips = new StripHistory()
  #nextIndex = 0
  #arrivedAtUs = 0

  constructor(recording: RecordingPlan, tell: (message: ServerToViewer) => void, anchor: Anchor) {
    this.#rateHz = recording.rateHz
    this.#tell = tell
    this.#anchor = anchor
    const { session, dogName, rateHz, startedAtUs } = recording
    const mount = parseMount(session.mount ?? 'auto')
    const headingResolved = mount !== 'auto'
    const { planned, limits } = planOf(recording)
    this.#picture = new SessionPicture(
      { session: session.id, dogName, rateHz, startedAtUs, headingResolved, planned, limits },
      [],
    )
    const picture = this.#picture
    this.#pipeline = new LivePipeline({
      rateHz,
      mount,
      limits,
      sink: {
        onWindow: (window) => {
          picture.addWindow(window)
          this.#windows.push(window)
        },
        onStrip: (strip) => {
          picture.addStrip(strip)
          this.#strips.add(strip)
        },
        onHold: (hold) => {
          picture.addHold(hold)
          this.#broadcast({ type: 'hold', hold })
        },
        onReference: (reference) => {
          picture.setReference(reference)
          this.#broadcast({ type: 'reference', reference })
        },
        onStop: (stop) => {
          picture.addStop(stop)
          this.#broadcast({ type: 'stop', stop })
        },
      },
    })
  }

  /** Takes acceleration in sensor axes, m/s², one array per axis; an index ahead means a loss. */
  push(firstIndex: number, [x, y, z]: readonly Float64Array[], arrivedAtUs: number) {
    this.#pipeline.push(firstIndex, { x, y, z })
    this.#nextIndex = Math.max(this.#nextIndex, firstIndex + x.length)
    this.#arrivedAtUs = arrivedAtUs
    this.#giveMarks(this.#nextIndex / this.#rateHz)
    this.#flush()
  }

  /** A mark set here or on another screen; one that is known changes nothing. */
  mark(mark: StoredMark) {
    if (this.#known.has(mark.id)) return
    this.#known.add(mark.id)
    this.#picture.addMark(mark)
    this.#broadcast({ type: 'mark', mark })
    this.#marksAhead.push(mark)
    this.#giveMarks(this.#nextIndex / this.#rateHz)
    this.#flush()
  }

  finish() {
    this.#giveMarks(Infinity)
    this.#pipeline.finish()
    this.#flush()
  }

  /** The session so far, for a view that opens now. */
  show() {
    this.#flush()
    this.#tell(this.#picture.snapshot(this.#nextIndex / this.#rateHz))
    this.#tell({ type: 'sender', connected: true })
  }

  #giveMarks(untilS: number) {
    const due = this.#marksAhead.filter(({ atS }) => atS <= untilS)
    if (due.length === 0) return
    this.#marksAhead = this.#marksAhead.filter(({ atS }) => atS > untilS)
    due.sort((a, b) => a.atS - b.atS)
    for (const { atS, kind, note } of due)
      this.#pipeline.mark(note === null ? { atS, kind } : { atS, kind, note })
  }

  #broadcast(message: ServerToViewer) {
    this.#flush()
    this.#tell(message)
  }

  #flush() {
    const windows = this.#windows
    if (windows.length === 0) return
    const strips = this.#strips.newest()
    this.#windows = []
    this.#strips.clear()
    if (windows.length > WINDOW_BURST) {
      this.#tell(this.#picture.snapshot(this.#nextIndex / this.#rateHz))
    }
    // Of a backlog the newest window goes out too: a snapshot alone is no sign of life.
    const told = windows.length > WINDOW_BURST ? windows.slice(-1) : windows
    told.forEach((window, i) =>
      this.#tell({
        type: 'window',
        window,
        strips: i === told.length - 1 ? strips : [],
        sampleArrivedAtUs: this.#arrivedAtUs,
        serverTimeUs: this.#anchor.utcUs(),
      }),
    )
  }
}

/** As the server has it: the plan the session follows, else common practice. With `cutBack` half of the plan. */
function planOf({ plan, cutBack = false, session: { planned } }: RecordingPlan) {
  if (!plan || plan.version !== planned?.planVersion) {
    return { planned: null, limits: COMMON_PRACTICE_STOP_LIMITS }
  }
  const { exerciseId } = planned
  const today = cutBack ? cutBackPlan(plan) : plan
  const limits = stopLimitsOf(today, exerciseId)
  return {
    planned: plannedExerciseOf(today, exerciseId),
    limits: cutBack ? { ...limits, basis: `${limits.basis}, cut back today` } : limits,
  }
}
