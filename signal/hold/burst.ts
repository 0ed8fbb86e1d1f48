import { selectInPlace } from '../trace/select.ts'
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
  return powers.length > 0 ? selectInPlace(powers, Math.floor(p * (powers.length - 1))) : 0
}

const mean = new Float64Array(3)
const level = new Float64Array(3)

/**
 * How far the trunk was pushed: squared distance of the mean slow motion over [from, to) from that over
 * [levelFrom, levelTo), (m/s²)²; 0 when either part holds no sample.
 */
export function slowShift(
  ticks: MotionTicks,
  [from, to]: readonly [number, number],
  [levelFrom, levelTo]: readonly [number, number],
): number {
  if (!ticks.meanLowPassedOver(levelFrom, levelTo, level)) return 0
  if (!ticks.meanLowPassedOver(from, to, mean)) return 0
  return (mean[0] - level[0]) ** 2 + (mean[1] - level[1]) ** 2 + (mean[2] - level[2]) ** 2
}
