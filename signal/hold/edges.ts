import { fastLevel } from './burst.ts'
import { TICK_S, TickSum } from './motion-ticks.ts'
import type { MotionTicks } from './motion-ticks.ts'
import { MOTION_WINDOW_TICKS } from './settings.ts'

/** A tick is active when its slow distance from the quiet mean exceeds this many times the quiet RMS … */
const SLOW_RATIO = 2.5
/** … and at least this, m/s² … */
const SLOW_FLOOR_MS2 = 0.15
/** … or when its fast power exceeds this many times the quiet one, as amplitudes … */
const FAST_RATIO = 2.2
/** … and at least this, m/s²: sensor noise and the touch of a hand stay below. */
const FAST_FLOOR_MS2 = 0.1
/** A pause inside a transient as long as this does not end it, ticks. */
const PAUSE_TICKS = 2

/**
 * The tick at which a hold begins, given that windows are quiet from `quietSince` on and it is
 * now tick `now`: the one after the last active tick before the quiet. `earliest` bounds it.
 */
export function holdStartTick(ticks: MotionTicks, quietSince: number, now: number, earliest: number): number {
  const isActive = activity(ticks, quietSince - MOTION_WINDOW_TICKS / 2, now + 1)
  const leftWindow = quietSince - MOTION_WINDOW_TICKS
  let last = leftWindow - MOTION_WINDOW_TICKS
  for (let i = quietSince; i > last; i--) {
    if (isActive(i)) {
      last = i
      break
    }
  }
  return Math.max(earliest, Math.min(last + 1, now), 0)
}

/**
 * The tick at which a hold ends, given that windows move from `movingSince` on and it is now tick
 * `now`: the first tick of the activity that made them. Not before the hold's start `from`.
 */
export function holdEndTick(ticks: MotionTicks, movingSince: number, now: number, from: number): number {
  const quietTo = Math.max(from + 3, movingSince - MOTION_WINDOW_TICKS + 1)
  const isActive = activity(ticks, Math.max(from, quietTo - 2 * MOTION_WINDOW_TICKS), quietTo)
  let first = -1
  for (let i = now, pause = 0; i >= from && pause <= PAUSE_TICKS; i--) {
    if (isActive(i)) {
      first = i
      pause = 0
    } else if (first >= 0) {
      pause++
    } else if (i < movingSince - MOTION_WINDOW_TICKS) {
      break
    }
  }
  if (first < 0) first = movingSince - MOTION_WINDOW_TICKS / 2
  return Math.max(from, first)
}

/** Tells for a tick whether it moves, measured against the quiet ticks [quietFrom, quietTo). */
function activity(ticks: MotionTicks, quietFrom: number, quietTo: number): (tick: number) => boolean {
  const sum = new TickSum()
  ticks.sum(quietFrom, quietTo, sum)
  if (sum.count === 0) return () => false
  const mean = sum.meanLowPassed()
  const slowLimit = Math.max(SLOW_RATIO ** 2 * sum.variance(), SLOW_FLOOR_MS2 ** 2)
  const fastLimit = Math.max(FAST_RATIO ** 2 * fastLevel(ticks, quietFrom, quietTo, 0.5), FAST_FLOOR_MS2 ** 2)
  const delay = Math.round(ticks.delayS / TICK_S)
  return (tick) => {
    if (ticks.highPower(tick) > fastLimit) return true
    ticks.sum(tick + delay, tick + delay + 1, sum)
    if (sum.count === 0) return false
    const [x, y, z] = sum.meanLowPassed()
    const distance = (x - mean[0]) ** 2 + (y - mean[1]) ** 2 + (z - mean[2]) ** 2
    return distance + sum.variance() > slowLimit
  }
}
