import { HoldDetector } from '../hold/detector.ts'
import { MotionTicks, TICK_S, TickSum } from '../hold/motion-ticks.ts'
import { nextStandEndTick, SWAY_NOW_TICKS } from '../hold/reference.ts'
import type { MountShift } from '../hold/mount-shift.ts'
import { findStance } from '../hold/stance.ts'
import type { Reference } from '../hold/reference.ts'
import { DEFAULT_HOLD_SETTINGS, MOTION_WINDOW_TICKS } from '../hold/settings.ts'
import type { HoldSettings } from '../hold/settings.ts'
import { resolveMount } from '../mount/mount.ts'
import type { MountOption } from '../mount/mount.ts'
import { norm, rotate } from '../mount/rotation.ts'
import type { Rotation } from '../mount/rotation.ts'
import type { Mark, Vector3Series } from '../trace/trace.ts'
import { Arrivals } from './arrivals.ts'
import { GapFill } from './gap-fill.ts'
import type { LiveHold, LiveReference, LiveStop, LiveStrip, LiveWindow } from './live-types.ts'
import { SampleWindow } from './sample-window.ts'
import { StopCues } from './stop-cues.ts'
import type { StopLimits } from './stop-limits.ts'
import { StripWriter } from './strip.ts'

/** Receives results synchronously, in order of signal time. */
export interface LiveSink {
  onWindow(window: LiveWindow): void
  onHold(hold: LiveHold): void
  /** The reference is new or better: all holds and stops are sent again after it, holds numbered from 0. */
  onReference(reference: LiveReference): void
  onStrip(strip: LiveStrip): void
  /** A limit was passed; each reason once, and again after a new reference. */
  onStop?(stop: LiveStop): void
}

export interface LivePipelineOptions {
  readonly rateHz: number
  readonly sink: LiveSink
  readonly mount?: MountOption
  readonly settings?: HoldSettings
  /** Limits of the stop cue; none without them. */
  readonly limits?: StopLimits
}

/** The tremor figure is renewed every this many ticks (0.5 s). */
const TREMOR_TICKS = 5
/** Without marks the reference is looked for again each time the stream has grown by this factor. */
const RELOOK_GROWTH = 1.25
const FIRST_LOOK_TICKS = 50

/**
 * The live analyser of one stream: samples in, ten windows a second and hold events out.
 *
 * Samples are addressed by index (t = index ÷ rate), so losses stay visible and packet sizes cannot
 * matter. Losses are treated as in a recording (`GapFill`). It keeps running sums, 0.1 s each, of the whole stream: when the floor reference becomes
 * known or improves, holds are found again from the start, so that after `finish()` they are those
 * of `analyse` on the same samples and marks. Work per sample is constant; a reference change costs
 * one pass over the sums.
 */
export class LivePipeline {
  private readonly rateHz: number
  private readonly sink: LiveSink
  private readonly mount: MountOption
  private readonly settings: HoldSettings
  private readonly ticks: MotionTicks
  private readonly samples: SampleWindow
  private readonly sum = new TickSum()
  private readonly marks: Mark[] = []
  private readonly holdsById = new Map<number, LiveHold>()
  private detector: HoldDetector | null = null
  private found: Reference | null = null
  private shift: MountShift | null = null
  private rotation: Rotation | null = null
  private rotationAfterShift: Rotation | null = null
  private readonly arrivals = new Arrivals(MOTION_WINDOW_TICKS)
  private readonly gapFill: GapFill
  private takenIndex = -1
  private nextIndex = 0
  private shownTicks = 0
  private lookAgainAt = FIRST_LOOK_TICKS
  private tremorMs2: number | null = null
  private finished = false
  private readonly strip: StripWriter
  private readonly stopCues: StopCues | null
  private readonly tellStop = (stop: LiveStop) => this.sink.onStop?.(stop)
  private giveStop = this.tellStop

  /** @throws {RangeError} when rateHz cannot carry the 3.5 Hz low-pass (7 Hz or less) */
  constructor(options: LivePipelineOptions) {
    this.rateHz = options.rateHz
    this.sink = options.sink
    this.mount = options.mount ?? 'auto'
    this.settings = options.settings ?? DEFAULT_HOLD_SETTINGS
    this.ticks = new MotionTicks(options.rateHz)
    this.samples = new SampleWindow(options.rateHz)
    this.gapFill = new GapFill(options.rateHz, {
      take: (index, x, y, z, arrived) => this.take(index, x, y, z, arrived),
      close: (index) => this.closeUntil(index),
    })
    this.strip = new StripWriter(options.rateHz, (strip) => this.sink.onStrip(strip))
    this.stopCues = options.limits
      ? new StopCues(options.limits, this.ticks, (stop) => this.giveStop(stop))
      : null
  }

  /** Holds known so far, in order. */
  get holds(): LiveHold[] {
    return [...this.holdsById.values()]
  }

  get reference(): LiveReference | null {
    return this.found && toLiveReference(this.found)
  }

  /** Seconds of signal taken in, losses included. */
  get receivedS(): number {
    return this.nextIndex / this.rateHz
  }

  /**
   * Takes samples `firstIndex …` in sensor axes, m/s². Samples already taken are skipped; an index
   * beyond the next one means that those between were lost. After `finish()` samples are ignored.
   */
  push(firstIndex: number, acc: Vector3Series): void {
    if (this.finished) return
    const { x, y, z } = acc
    for (let i = Math.max(0, this.nextIndex - firstIndex); i < x.length; i++) {
      this.nextIndex = firstIndex + i + 1
      this.gapFill.push(firstIndex + i, x[i], y[i], z[i])
    }
    this.strip.send()
  }

  /** Says that the samples [firstIndex, firstIndex + count) will never come. */
  lost(firstIndex: number, count: number): void {
    if (this.finished) return
    this.nextIndex = Math.max(this.nextIndex, firstIndex + count)
    this.gapFill.lost(this.nextIndex)
    this.strip.send()
  }

  /** Adds a mark, late or not; a quiet stand becomes the reference as soon as it is complete. */
  mark(mark: Mark): void {
    if (this.finished) return
    this.marks.push(mark)
    this.marks.sort((a, b) => a.atS - b.atS)
    this.stopCues?.setMarks(this.marks)
    if (mark.kind.startsWith('quiet-stand')) this.lookForReference()
  }

  /** Ends the stream: settles the reference, closes a running hold at the last sample. */
  finish(): void {
    if (this.finished) return
    this.gapFill.endRun()
    this.finished = true
    this.lookForReference()
    this.detector?.finish((this.takenIndex + 1) / this.rateHz)
    this.strip.send()
  }

  private take(index: number, x: number, y: number, z: number, arrived: boolean): void {
    if (arrived) this.arrivals.add(this.tickOf(index))
    this.takenIndex = index
    this.ticks.push(index / this.rateHz, x, y, z)
    this.samples.push(index, x, y, z)
    if (index % this.strip.every === 0) this.addToStrip(index)
    this.closeUntil(index + 1)
  }

  private tickOf(index: number): number {
    return Math.floor(index / this.rateHz / TICK_S + 1e-6)
  }

  /**
   * Everything before `index` has come or is lost. Ticks are closed one by one: what is shown must
   * not depend on packet sizes, nor on how a loss was told.
   */
  private closeUntil(index: number): void {
    const end = this.tickOf(index)
    while (this.shownTicks < end) {
      this.shownTicks++
      this.ticks.closeUntil(this.shownTicks * TICK_S)
      if (this.shownTicks >= this.lookAgainAt) this.lookForReference()
      this.detector?.advance(this.shownTicks)
      this.stopCues?.advance(this.shownTicks)
      if (this.shownTicks % TREMOR_TICKS === 0) this.renewTremor()
      if (this.shownTicks >= MOTION_WINDOW_TICKS) this.sink.onWindow(this.window(this.shownTicks))
    }
  }

  private renewTremor(): void {
    const lastIndex = Math.ceil(this.shownTicks * TICK_S * this.rateHz - 1e-6) - 1
    this.tremorMs2 = this.samples.tremorMs2(lastIndex)
  }

  private window(end: number): LiveWindow {
    const from = end - MOTION_WINDOW_TICKS
    const arrived = this.arrivals.before(end, MOTION_WINDOW_TICKS)
    const coverage = Math.min(1, arrived / (MOTION_WINDOW_TICKS * TICK_S * this.rateHz))
    const detector = this.detector
    const silent = this.ticks.coverage(end - 3, end) < 0.2
    return {
      index: from,
      endS: round(end * TICK_S),
      state: silent ? 'no signal' : (detector?.state ?? 'waiting'),
      holdS: round(detector?.holdS ?? 0),
      motion: detector?.motion ?? null,
      tiltDeg: detector?.tiltDeg ?? null,
      swayMs2: this.swayNow(end),
      tremorMs2: this.tremorMs2,
      coverage,
    }
  }

  private swayNow(end: number): number | null {
    if (end < SWAY_NOW_TICKS || this.ticks.coverage(end - SWAY_NOW_TICKS, end) < 0.5) return null
    this.ticks.sum(end - SWAY_NOW_TICKS, end, this.sum)
    const reference = this.shiftAt(end * TICK_S)?.reference ?? this.found
    const gravity = reference?.gravity ?? this.sum.meanRaw()
    const length = norm(gravity)
    if (!(length > 0)) return null
    const up = gravity.map((v) => v / length)
    return Math.sqrt(Math.max(0, this.sum.variance() - this.sum.varianceAlong(up)))
  }

  /** The turn of the sensor that holds at a time, if any. */
  private shiftAt(tS: number): MountShift | null {
    return this.shift && tS >= this.shift.atS ? this.shift : null
  }

  private lookForReference(): void {
    const grown = Math.max(FIRST_LOOK_TICKS, Math.ceil(this.shownTicks * RELOOK_GROWTH))
    this.lookAgainAt = Math.min(grown, nextStandEndTick(this.marks, this.shownTicks))
    const untilTick = this.finished ? undefined : this.shownTicks
    const { reference: found, shift } = findStance(this.ticks, this.marks, untilTick)
    if (!found || (sameReference(found, this.found) && sameShift(shift, this.shift))) return
    this.found = found
    this.shift = shift
    this.rotation = resolveMount(this.mount, found.gravity).rotation
    this.rotationAfterShift = shift && resolveMount(this.mount, shift.reference.gravity).rotation
    this.holdsById.clear()
    const stops: LiveStop[] = []
    this.stopCues?.begin(found, shift)
    this.giveStop = (stop) => void stops.push(stop)
    const keep = (hold: LiveHold) => {
      this.holdsById.set(hold.id, hold)
      this.stopCues?.hold(hold)
    }
    this.detector = new HoldDetector(this.ticks, found, keep, this.settings, shift)
    for (let tick = 1; tick <= this.shownTicks; tick++) {
      this.detector.advance(tick)
      this.stopCues?.advance(tick)
    }
    this.giveStop = this.tellStop
    this.sink.onReference(toLiveReference(found))
    const known = [...this.holdsById.values()]
    this.detector.emit = (hold) => {
      keep(hold)
      this.sink.onHold(hold)
    }
    for (const hold of known) this.sink.onHold(hold)
    for (const stop of stops) this.tellStop(stop)
  }

  private addToStrip(index: number): void {
    const lowPassed = [...this.ticks.lowPassed]
    this.rotation ??= resolveMount(this.mount, lowPassed).rotation
    const shifted = this.shiftAt(index / this.rateHz) && this.rotationAfterShift
    const [cc, ml] = rotate(shifted ?? this.rotation, lowPassed)
    this.strip.add(index, ml, cc)
  }
}

function sameReference(a: Reference, b: Reference | null): boolean {
  if (!b || a.fromS !== b.fromS || a.toS !== b.toS || a.basis !== b.basis) return false
  // The same seconds may have been measured before all of their samples had come.
  return sameVector(a.gravity, b.gravity) && a.motionVariance === b.motionVariance
}

function sameShift(a: MountShift | null, b: MountShift | null): boolean {
  if (!a || !b) return a === b
  return a.atS === b.atS && sameVector(a.reference.gravity, b.reference.gravity)
}

function sameVector(a: readonly number[], b: readonly number[]): boolean {
  return a.every((value, i) => value === b[i])
}

function toLiveReference(reference: Reference): LiveReference {
  const { fromS, toS, swayMs2 } = reference
  return { fromS, toS, swayMs2, gravityMs2: norm(reference.gravity) }
}

/** Removes the float dust of adding tenths. */
function round(seconds: number): number {
  return Math.round(seconds * 1000) / 1000
}
