import type { GyroUnit } from './units.ts'

/** 2000 deg/s, the widest range in common use, in rad/s: a larger value cannot be rad/s (common practice, no source). */
const MAX_RAD_S = 35

/**
 * The unit of the gyroscope when nothing states it: deg/s if a value is too large for rad/s, else
 * null, because slow turns in deg/s and fast ones in rad/s look alike.
 */
export function guessGyroUnit(gyr: readonly Float64Array[]): GyroUnit | null {
  return gyr.some((axis) => axis.some((value) => Math.abs(value) > MAX_RAD_S)) ? 'deg/s' : null
}
