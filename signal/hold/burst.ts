import { TickSum } from './motion-ticks.ts'
import type { MotionTicks } from './motion-ticks.ts'

/** A burst is judged over this many ticks: 0.3 s. */
export const BURST_TICKS = 3

/** Fast motion over the ticks [tick − 2, tick], mean power in (m/s²)². */
export function burstPower(ticks: MotionTicks, tick: number): number {
  return (ticks.highPower(tick) + ticks.highPower(tick - 1) + ticks.highPower(tick - 2)) / BURST_TICKS
}

/** The p-quantile (lower) of the tick powers of fast motion in [from, to); 0 for none. */
export function fastLevel(ticks: MotionTicks, from: number, to: number, p: number): number {
  const powers = new Float64Array(Math.max(0, to - from))
  for (let k = from; k < to; k++) powers[k - from] = ticks.highPower(k)
  powers.sort()
  return powers.length > 0 ? powers[Math.floor(p * (powers.length - 1))] : 0
}

/** How far the trunk was pushed: slow motion over [from, to) against that over [levelFrom, levelTo). */
export interface SlowShift {
  /** Squared distance of the two means, (m/s²)². */
  readonly distance: number
  /** Variance over the level ticks, three axes summed, (m/s²)². */
  readonly variance: number
}

const sum = new TickSum()

/** Null when either part holds no sample. */
export function slowShift(
  ticks: MotionTicks,
  [from, to]: readonly [number, number],
  [levelFrom, levelTo]: readonly [number, number],
): SlowShift | null {
  if (ticks.sum(levelFrom, levelTo, sum).count === 0) return null
  const level = sum.meanLowPassed()
  const variance = sum.variance()
  if (ticks.sum(from, to, sum).count === 0) return null
  const [x, y, z] = sum.meanLowPassed()
  return { distance: (x - level[0]) ** 2 + (y - level[1]) ** 2 + (z - level[2]) ** 2, variance }
}
