import { TICK_S, TickSum } from './motion-ticks.ts'
import type { MotionTicks } from './motion-ticks.ts'
import { MOTION_WINDOW_TICKS } from './settings.ts'

/** Length of a stretch and step from one to the next, ticks: 5 s each 0.5 s. */
export const STRETCH_TICKS = 50
export const STRETCH_HOP_TICKS = 5
const MIN_COVERAGE = 0.9

/** Five seconds of the recording: which way is up on average, and how much it moves. */
export interface Stretch {
  /** First tick. */
  readonly from: number
  /** Mean acceleration, sensor axes, m/s². */
  readonly up: readonly [number, number, number]
  /** Variance of the low-passed acceleration, three axes summed, (m/s²)². */
  readonly variance: number
  /** The same of the stillest and the liveliest second. */
  readonly least: number
  readonly most: number
}

/**
 * Every 5 s of a recording, one each 0.5 s, of which 90 % of the samples arrived. Finished ticks never
 * change, so each stretch is measured once, however often it is asked for while the recording grows.
 */
export class Stretches {
  private readonly list: Stretch[] = []
  private next = 0
  private readonly sum = new TickSum()
  /** Variances of the seconds of the latest stretches, by start; NaN for an empty one. */
  private readonly seconds: number[] = []

  /** The stretches of all finished ticks, ascending. */
  of(ticks: MotionTicks): readonly Stretch[] {
    for (; this.next + STRETCH_TICKS <= ticks.length; this.next += STRETCH_HOP_TICKS) {
      const stretch = this.measured(ticks, this.next)
      if (stretch) this.list.push(stretch)
    }
    return this.list
  }

  private measured(ticks: MotionTicks, from: number): Stretch | null {
    const to = from + STRETCH_TICKS
    let least = Number.POSITIVE_INFINITY
    let most = 0
    for (let k = from; k < to; k += MOTION_WINDOW_TICKS) {
      const variance = (this.seconds[k / STRETCH_HOP_TICKS] ??= this.secondVariance(ticks, k))
      if (variance < least) least = variance
      if (variance > most) most = variance
    }
    const { sum } = this
    ticks.sum(from, to, sum)
    if (sum.count / (STRETCH_TICKS * TICK_S * ticks.rateHz) < MIN_COVERAGE) return null
    return { from, up: sum.meanRaw(), variance: sum.variance(), least, most }
  }

  private secondVariance(ticks: MotionTicks, from: number): number {
    const second = ticks.sum(from, from + MOTION_WINDOW_TICKS, this.sum)
    return second.count > 0 ? second.variance() : Number.NaN
  }
}
