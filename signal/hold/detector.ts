import type { LiveHold, LiveState } from '../live/live-types.ts'
import { angleDeg } from '../mount/rotation.ts'
import type { HoldEnd } from '../report-types.ts'
import { BURST_TICKS, burstPower, fastLevel, slowShift } from './burst.ts'
import { holdEndTick, holdStartTick } from './edges.ts'
import { BRIDGE_S, TICK_S, TickSum } from './motion-ticks.ts'
import type { MotionTicks } from './motion-ticks.ts'
import type { MountShift } from './mount-shift.ts'
import type { Reference } from './reference.ts'
import { DEFAULT_HOLD_SETTINGS, MOTION_WINDOW_TICKS } from './settings.ts'
import type { HoldSettings } from './settings.ts'

/** A tilt seen within this long after a hold ended is why it ended, s. */
const TILT_AFTER_S = 1.5
/** Windows with less of their samples than this are not judged. */
const MIN_COVERAGE = 0.5
/** A tick with less than this of its samples counts as missing signal. */
const FULL_TICK = 0.95

/** The level of fast motion a burst is compared with is that of the last 3 s of the hold, … */
const LEVEL_TICKS = 30
/** … or, before a hold is entered, the lower quartile of the window, which a step does not fill. */
const WINDOW_LEVEL_QUANTILE = 0.25

/**
 * Finds stable holds tick by tick: the same object serves live streams and recordings.
 *
 * The motion statistic over the newest 1 s, three axes summed, is
 *   T = var(slow)/(slowRatio·σ_slow)² + mean(fast²)/(fastRatio·σ_fast)²
 * with slow the acceleration below 3.5 Hz, fast that above 4 Hz and σ those of the floor reference,
 * bounded: the moving-variance form of the zero-velocity detectors of Skog et al. 2010 (IEEE TBME
 * 57:2657–2666), split in two bands and relative to the dog instead of the sensor noise, since a dog
 * on its feet is never still and panting or tremor do not break a hold. A hold is entered when T
 * stays below 1 for 0.5 s, without a burst, with the trunk within 15° of the reference stance. It is
 * left when T stays above `leaveT` or the tilt beyond its limit for 0.3 s, at 0.3 s of motion far above
 * its own recent level (fast: a paw set down; slow: a push or a shift of weight), or when more than 0.25 s of signal is missing.
 * Start and end are then refined to the tick (0.1 s) by short-time energy. Lying cannot be told from
 * standing by a trunk sensor: a dog lying still, level, counts as still.
 */
export class HoldDetector {
  private readonly ticks: MotionTicks
  private readonly reference: Reference
  private readonly shift: MountShift | null
  private readonly settings: HoldSettings
  /** Receives every change of a hold; the same id again when it ends or is extended. */
  emit: (hold: LiveHold) => void
  private readonly sum = new TickSum()
  private readonly pushSum = new TickSum()
  private readonly slowLimit: number
  private readonly fastLimit: number
  private readonly enterWindows: number
  private readonly leaveWindows: number
  private next = 0
  /** First tick after the latest loss of signal. */
  private validFrom = 0
  private missingTicks = 0
  private missingSince = 0
  private quietSince = -1
  private movingSince = -1
  private tiltedSince = -1
  private open: { from: number; emitted: boolean; id: number } | null = null
  private last: { id: number; from: number; to: number; endedBy: HoldEnd } | null = null
  private holdCount = 0

  state: LiveState = 'moving'
  /** T over its entry limit in the newest judged window: below 1 enters a hold. */
  motion: number | null = null
  tiltDeg: number | null = null

  constructor(
    ticks: MotionTicks,
    reference: Reference,
    emit: (hold: LiveHold) => void,
    settings: HoldSettings = DEFAULT_HOLD_SETTINGS,
    shift: MountShift | null = null,
  ) {
    this.ticks = ticks
    this.reference = reference
    this.emit = emit
    this.shift = shift
    this.settings = settings
    const { slowFloorMs2, slowCeilingMs2, fastFloorMs2, fastCeilingMs2 } = settings
    const slow = clamp(Math.sqrt(reference.motionVariance), slowFloorMs2, slowCeilingMs2)
    const fast = clamp(Math.sqrt(reference.highPower), fastFloorMs2, fastCeilingMs2)
    this.slowLimit = (settings.slowRatio * slow) ** 2
    this.fastLimit = (settings.fastRatio * fast) ** 2
    this.enterWindows = Math.round(settings.enterS / TICK_S)
    this.leaveWindows = Math.round(settings.leaveS / TICK_S)
  }

  /** Seconds the running hold has lasted at the newest tick, 0 without one. */
  get holdS(): number {
    return this.open ? (this.next - this.open.from) * TICK_S : 0
  }

  /** Start of the running hold, s; null without one. */
  get holdFromS(): number | null {
    return this.open ? this.open.from * TICK_S : null
  }

  /** Judges the ticks before `endTick` not judged yet; they must be closed. */
  advance(endTick = this.ticks.length): void {
    while (this.next < endTick) {
      this.judge(this.next)
      this.next++
      this.emitOpenHold()
    }
  }

  /** Ends a running hold at the end of the recording. */
  finish(endS: number): void {
    this.advance()
    if (this.open) this.close(this.next, 'end of recording', endS)
  }

  private judge(k: number): void {
    if (this.signalLost(k)) return
    const from = Math.max(this.validFrom, k + 1 - MOTION_WINDOW_TICKS)
    const whole = k + 1 - from >= MOTION_WINDOW_TICKS
    if (!whole || this.ticks.coverage(from, k + 1) < MIN_COVERAGE) {
      if (!this.open) this.state = 'moving'
      return
    }
    this.ticks.sum(from, k + 1, this.sum)
    const t = this.sum.variance() / this.slowLimit + this.sum.highPower() / this.fastLimit
    this.motion = t
    this.tiltDeg = angleDeg(this.sum.meanRaw(), this.gravityAt(k))
    const tilted = this.tiltDeg > this.settings.tiltDeg
    const quiet = t < 1 && !tilted && (this.open !== null || !this.burstInWindow(from, k))
    this.quietSince = since(quiet, this.quietSince, k)
    this.movingSince = since(t > this.settings.leaveT, this.movingSince, k)
    this.tiltedSince = since(tilted, this.tiltedSince, k)
    if (this.open) this.maybeLeave(k)
    else this.maybeEnter(k)
    this.relabelTilt(k, tilted)
    this.state = this.open ? 'steady' : 'moving'
  }

  /** Up in the stance, sensor axes: another direction after the harness moved. */
  private gravityAt(k: number): Reference['gravity'] {
    const moved = this.shift && k * TICK_S >= this.shift.atS
    return moved ? this.shift.reference.gravity : this.reference.gravity
  }

  /** Follows missing signal; true while it is lost for longer than can be bridged. */
  private signalLost(k: number): boolean {
    const coverage = this.ticks.coverage(k, k + 1)
    if (coverage >= FULL_TICK) {
      if (this.missingTicks * TICK_S > BRIDGE_S) this.validFrom = k
      this.missingTicks = 0
      return false
    }
    if (this.missingTicks === 0) this.missingSince = k + coverage
    this.missingTicks += 1 - coverage
    if (this.missingTicks * TICK_S <= BRIDGE_S) return false
    if (this.open) this.close(Math.round(this.missingSince), 'signal lost')
    this.validFrom = k + 1
    this.quietSince = this.movingSince = this.tiltedSince = -1
    this.motion = this.tiltDeg = null
    this.state = 'no signal'
    return true
  }

  private maybeEnter(k: number): void {
    if (this.quietSince < 0 || k - this.quietSince + 1 < this.enterWindows) return
    const earliest = Math.max(this.validFrom, this.last?.to ?? 0)
    const from = holdStartTick(this.ticks, this.quietSince, k, earliest)
    if (
      this.last &&
      (from - this.last.to) * TICK_S < this.settings.mergeS &&
      this.last.endedBy !== 'signal lost'
    ) {
      this.open = { from: this.last.from, emitted: false, id: this.last.id }
      this.last = null
    } else {
      this.open = { from, emitted: false, id: this.holdCount++ }
    }
    this.movingSince = this.tiltedSince = -1
  }

  private maybeLeave(k: number): void {
    const burst = this.burstNow(k)
    const moving = this.movingSince >= 0 && k - this.movingSince + 1 >= this.leaveWindows
    const tilted = this.tiltedSince >= 0 && k - this.tiltedSince + 1 >= this.leaveWindows
    if (!moving && !tilted && !burst) return
    const changed = burst ? k - BURST_TICKS + 1 : moving ? this.movingSince : this.tiltedSince
    const to = holdEndTick(this.ticks, changed, k, this.open!.from)
    this.close(to, tilted ? 'tilt' : 'step')
    this.quietSince = -1
  }

  /** A paw set down or a push right now, against the last 3 s of the hold. */
  private burstNow(k: number): boolean {
    const from = Math.max(this.open!.from, k - BURST_TICKS - LEVEL_TICKS + 1)
    const to = k - BURST_TICKS + 1
    if (to - from < BURST_TICKS) return false
    const power = burstPower(this.ticks, k)
    if (this.couldBurst(power) && this.isBurst(power, fastLevel(this.ticks, from, to, 0.5))) return true
    return to - from >= MOTION_WINDOW_TICKS && this.isPush([to, k + 1], [from, to])
  }

  /** The same anywhere in the window a hold would be entered on. */
  private burstInWindow(from: number, k: number): boolean {
    let level: number | null = null
    const newest = k + 1 - MOTION_WINDOW_TICKS / 2
    for (let i = from + BURST_TICKS - 1; i <= k; i++) {
      const power = burstPower(this.ticks, i)
      if (this.couldBurst(power)) {
        level ??= fastLevel(this.ticks, from, k + 1, WINDOW_LEVEL_QUANTILE)
        if (this.isBurst(power, level)) return true
      }
      if (i < newest && this.isPush([i - BURST_TICKS + 1, i + 1], [newest, k + 1])) return true
    }
    return false
  }

  /** Whether the power is enough for a burst at all: spares looking for the level it is compared with. */
  private couldBurst(power: number): boolean {
    return power > this.settings.burstMs2 ** 2
  }

  private isBurst(power: number, level: number): boolean {
    return this.couldBurst(power) && power > this.settings.burstRatio ** 2 * level
  }

  private isPush(part: readonly [number, number], level: readonly [number, number]): boolean {
    const distance = slowShift(this.ticks, part, level)
    if (!(distance > this.settings.pushMs2 ** 2)) return false
    return distance > this.settings.pushRatio ** 2 * this.ticks.sum(...level, this.pushSum).variance()
  }

  private close(to: number, endedBy: HoldEnd, toS = to * TICK_S): void {
    const { id, from } = this.open!
    this.open = null
    const { minHoldS } = this.settings
    if (toS - from * TICK_S < minHoldS - 1e-9) {
      if (id > this.emittedId) {
        this.holdCount = id
        return
      }
      // It has been announced after the least time: the refined end cannot take that back.
      to = from + Math.round(minHoldS / TICK_S)
      toS = to * TICK_S
    }
    this.last = { id, from, to, endedBy }
    this.emittedId = Math.max(this.emittedId, id)
    this.emit({ id, fromS: from * TICK_S, toS, endedBy })
  }

  /** The newest hold that was announced. */
  private emittedId = -1

  private relabelTilt(k: number, tilted: boolean): void {
    if (!tilted || !this.last || this.last.endedBy !== 'step') return
    if ((k - this.last.to) * TICK_S > TILT_AFTER_S) return
    this.last = { ...this.last, endedBy: 'tilt' }
    this.emit({
      id: this.last.id,
      fromS: this.last.from * TICK_S,
      toS: this.last.to * TICK_S,
      endedBy: 'tilt',
    })
  }

  /** Announces the running hold once it is long enough to be kept. */
  private emitOpenHold(): void {
    if (!this.open || this.open.emitted || this.holdS < this.settings.minHoldS - 1e-9) return
    this.open.emitted = true
    this.emittedId = Math.max(this.emittedId, this.open.id)
    this.emit({ id: this.open.id, fromS: this.open.from * TICK_S, toS: null, endedBy: null })
  }
}

/** The tick since which a condition holds, −1 while it does not. */
function since(condition: boolean, before: number, k: number): number {
  return condition ? (before < 0 ? k : before) : -1
}

function clamp(value: number, least: number, most: number): number {
  return Math.min(Math.max(value, least), most)
}
