import { TICK_S } from '../hold/motion-ticks.ts'
import type { MotionTicks } from '../hold/motion-ticks.ts'
import type { MountShift } from '../hold/mount-shift.ts'
import type { Reference } from '../hold/reference.ts'
import { norm } from '../mount/rotation.ts'
import { markedSpans } from '../session/repetitions.ts'
import { inMarkedStand, isOpeningStand } from '../session/roles.ts'
import { supportOf } from '../session/support.ts'
import type { Span, Support } from '../session/support.ts'
import type { Mark } from '../trace/trace.ts'
import type { LiveHold, LiveStop, StopReason } from './live-types.ts'
import type { StopLimits } from './stop-limits.ts'
import { SupportRise } from './support-rise.ts'
import { SwaySoFar } from './sway-so-far.ts'

/** A running hold is judged up to this long ago, s: what ends a hold shows in it before it is known to have ended. */
const BEHIND_S = 1.5
/** A hold that ended this long ago is not taken up again, s: 0.3 s apart, found at most 2.5 s late. */
const SETTLED_S = 3
/** Shorter holds are not what later ones are compared with, s. */
const MIN_FIRST_S = 2
/** A repetition that a person ends up to this long after the hold was ended by that person, s: time to react. */
const REACTION_S = 1

/**
 * Tells when a limit of the plan is passed: a sign to stop, once per reason. Judged tick by tick on the
 * running sums, the holds and the marks, so packet sizes cannot matter. After a new reference all is judged
 * again from the start, with the marks known by then.
 *
 * - `session-cap`: the stream reached the cap (value and limit in s).
 * - `repetitions`: a repetition was started after so many (counts of repetition-start marks).
 * - `sway`: a hold sways more than `swayRatio` times the first one (`SwaySoFar`: RMS over the hands-off part
 *   when support was marked, over at least 2 s). A running hold counts up to 1.5 s ago, an ended one whole.
 * - `short-hold`: a hold ended by a step or tilt is shorter than `holdRatio` times the first one; when
 *   repetitions are marked, only holds inside one, and not one whose repetition a person ended in it or
 *   within 1 s. Known 3 s after its end, when it can no longer be taken up again.
 * - `support`: the hands-on share of a repetition's hold time is higher by more than `supportRise` than in
 *   the first one (`SupportRise`).
 *
 * The first hold is the first of at least 2 s that is no quiet stand (as in reports: the marked ones, else
 * an opening hold on the quietest stretch); for sway the first with 2 s that count.
 */
export class StopCues {
  private readonly limits: StopLimits
  private readonly ticks: MotionTicks
  private readonly emit: (stop: LiveStop) => void
  private readonly given = new Set<StopReason>()
  private marks: readonly Mark[] = []
  private support: Support = supportOf([], 0)
  private repetitions: readonly Span[] = []
  private starts: readonly number[] = []
  private reference: Reference | null = null
  private shift: MountShift | null = null
  private current: { hold: LiveHold; sway: SwaySoFar } | null = null
  private firstS: number | null = null
  private firstSwayMs2: number | null = null
  private supportRise = new SupportRise()

  constructor(limits: StopLimits, ticks: MotionTicks, emit: (stop: LiveStop) => void) {
    this.limits = limits
    this.ticks = ticks
    this.emit = emit
  }

  /** All marks known, ascending in time. What was told already stays told. */
  setMarks(marks: readonly Mark[]): void {
    this.marks = marks
    this.support = supportOf(marks, Infinity)
    this.repetitions = markedSpans(marks, Infinity)
    this.starts = marks.filter(({ kind }) => kind === 'repetition-start').map(({ atS }) => atS)
    this.current?.sway.restart()
  }

  /** A new reference: forgets holds and cues. Every tick is to be told again. */
  begin(reference: Reference, shift: MountShift | null): void {
    this.reference = reference
    this.shift = shift
    this.given.clear()
    this.current = this.firstS = this.firstSwayMs2 = null
    this.supportRise = new SupportRise()
  }

  /** Every announcement of a hold. */
  hold(hold: LiveHold): void {
    if (this.current?.hold.id === hold.id) {
      this.current.hold = hold
      this.current.sway.restart()
      return
    }
    this.settle()
    this.current = { hold, sway: new SwaySoFar(this.ticks, hold.fromS, this.upAt(hold.fromS)) }
  }

  /** Judges what is known when the ticks before `tick` are closed. */
  advance(tick: number): void {
    const nowS = tick * TICK_S
    const { sessionCapS, maxRepetitions, supportRise } = this.limits
    if (sessionCapS !== null && nowS >= sessionCapS - 1e-9) {
      this.tell('session-cap', sessionCapS, tidy(nowS), sessionCapS)
    }
    const next = maxRepetitions === null ? undefined : this.starts[maxRepetitions]
    if (next !== undefined && next <= nowS) {
      this.tell('repetitions', next, maxRepetitions! + 1, maxRepetitions!)
    }
    this.judgeCurrent(nowS)
    if (supportRise === null) return
    const busyFromS = this.current ? this.current.hold.fromS : Infinity
    const risen = this.supportRise.next(nowS, busyFromS, this.repetitions, this.support)
    if (risen && risen.rise > supportRise + 1e-9) this.tell('support', risen.atS, risen.rise, supportRise)
  }

  private judgeCurrent(nowS: number): void {
    if (!this.current) return
    const { hold, sway } = this.current
    sway.extend(Math.round((hold.toS ?? nowS - BEHIND_S) / TICK_S), this.countedSpans())
    this.judgeSway(sway, hold, nowS)
    if (hold.toS !== null && nowS >= hold.toS + SETTLED_S) this.settle()
  }

  private judgeSway(sway: SwaySoFar, hold: LiveHold, nowS: number): void {
    const { swayRatio } = this.limits
    if (swayRatio === null || this.given.has('sway') || !this.firstSwayMs2) return
    const rmsMs2 = sway.rmsMs2
    if (rmsMs2 === null || this.isQuietStand(hold, nowS)) return
    const ratio = rmsMs2 / this.firstSwayMs2
    if (ratio > swayRatio) this.tell('sway', hold.toS ?? tidy(nowS - BEHIND_S), ratio, swayRatio)
  }

  /** The current hold will not change any more. */
  private settle(): void {
    const { current } = this
    this.current = null
    if (!current || current.hold.toS === null) return
    const { fromS, toS, endedBy } = current.hold
    if (this.isQuietStand(current.hold, toS)) return
    // The next hold may have come before the tick that would have judged the end of this one.
    current.sway.extend(Math.round(toS / TICK_S), this.countedSpans())
    this.judgeSway(current.sway, current.hold, toS)
    this.firstSwayMs2 ??= current.sway.rmsMs2
    this.supportRise.add({ fromS, toS })
    if (this.repetitions.length > 0 && !this.repetitionOf({ fromS, toS })) return
    if (this.firstS === null) {
      if (toS - fromS >= MIN_FIRST_S) this.firstS = toS - fromS
      return
    }
    const { holdRatio } = this.limits
    const ratio = (toS - fromS) / this.firstS
    const isOwn = endedBy === 'step' || endedBy === 'tilt'
    if (holdRatio === null || !isOwn || ratio >= holdRatio || this.endedByPerson({ fromS, toS })) return
    this.tell('short-hold', toS, ratio, holdRatio)
  }

  private repetitionOf({ fromS, toS }: Span): Span | undefined {
    const middle = (fromS + toS) / 2
    return this.repetitions.find((span) => middle >= span.fromS && middle < span.toS)
  }

  private endedByPerson({ fromS, toS }: Span): boolean {
    return this.marks.some(
      ({ kind, atS }) => kind === 'repetition-end' && atS >= fromS && atS <= toS + REACTION_S,
    )
  }

  private isQuietStand({ id, fromS, toS }: LiveHold, nowS: number): boolean {
    const endS = toS ?? nowS
    if (this.marks.some(({ kind }) => kind.startsWith('quiet-stand'))) {
      // While it lasts, one that began as a quiet stand still is one.
      const beganAsStand = toS === null && inMarkedStand(this.marks, fromS)
      return beganAsStand || inMarkedStand(this.marks, (fromS + endS) / 2)
    }
    return id === 0 && this.reference !== null && isOpeningStand({ fromS, toS: endS }, this.reference)
  }

  private countedSpans(): readonly Span[] | null {
    return this.support.known ? this.support.handsOff : null
  }

  private upAt(tS: number): readonly number[] {
    const reference = this.shift && tS >= this.shift.atS ? this.shift.reference : this.reference!
    const length = norm(reference.gravity)
    return reference.gravity.map((v) => v / length)
  }

  private tell(reason: StopReason, atS: number, value: number, limit: number): void {
    if (this.given.has(reason)) return
    this.given.add(reason)
    this.emit({ reason, atS, value, limit })
  }
}

/** Removes the float dust of adding tenths. */
function tidy(seconds: number): number {
  return Math.round(seconds * 1000) / 1000
}
