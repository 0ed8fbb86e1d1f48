import { TICK_S, TickSum } from '../hold/motion-ticks.ts'
import type { MotionTicks } from '../hold/motion-ticks.ts'
import type { Span } from '../session/support.ts'

/** Less counted signal than this says nothing about sway, s: a slow sway takes about as long (signal.md §5). */
const MIN_COUNTED_S = 2

/**
 * Sway of a hold while it lasts: horizontal RMS about the mean of the causally low-passed acceleration
 * (3.5 Hz) over those of its ticks that count, as the running sums know it. The ticks are shifted by the
 * delay of the low-pass. What counts is the hands-off time when support was marked, else the whole hold.
 */
export class SwaySoFar {
  private readonly ticks: MotionTicks
  private readonly up: readonly number[]
  private readonly delay: number
  private readonly sum = new TickSum()
  private readonly from: number
  private next: number

  /** @param up unit vector of gravity in sensor axes */
  constructor(ticks: MotionTicks, fromS: number, up: readonly number[]) {
    this.ticks = ticks
    this.up = up
    this.delay = Math.round(ticks.delayS / TICK_S)
    this.from = this.next = Math.round(fromS / TICK_S)
  }

  /** Takes the ticks before `toTick` not taken yet. `counted` null counts all. */
  extend(toTick: number, counted: readonly Span[] | null): void {
    for (; this.next < toTick; this.next++) {
      if (counted !== null && !isInside(this.next, counted)) continue
      this.ticks.addTo(this.next + this.delay, this.next + this.delay + 1, this.sum)
    }
  }

  /** Begins again at the start of the hold: its end or what counts is another now. */
  restart(): void {
    this.sum.clear()
    this.next = this.from
  }

  /** m/s²; null below 2 s of counted signal. */
  get rmsMs2(): number | null {
    if (this.sum.count < MIN_COUNTED_S * this.ticks.rateHz) return null
    return Math.sqrt(Math.max(0, this.sum.variance() - this.sum.varianceAlong(this.up)))
  }
}

function isInside(tick: number, spans: readonly Span[]): boolean {
  const fromS = tick * TICK_S
  for (const span of spans) {
    if (span.fromS <= fromS + 1e-9 && span.toS >= fromS + TICK_S - 1e-9) return true
  }
  return false
}
