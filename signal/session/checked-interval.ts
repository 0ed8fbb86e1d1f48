import type { FoundHold } from './find-holds.ts'

/** An option that does not fit this recording; the recording itself is fine. */
export class OptionError extends RangeError {
  override readonly name = 'OptionError'
}

/** An ellipse needs this many samples. */
const MIN_SAMPLES = 3

/**
 * The interval [from, to) seconds a person asked for, as a hold.
 * @throws {OptionError} unless it lies in 0..endS and is 3 samples long
 */
export function checkedInterval(
  [fromS, toS]: readonly [number, number],
  endS: number,
  rateHz: number,
): FoundHold {
  if (!(fromS >= 0 && toS > fromS && toS <= endS + 1e-6)) {
    throw new OptionError(
      `interval ${fromS}:${toS} must lie within the recording, 0 to ${endS.toFixed(3)} s, and end after it begins`,
    )
  }
  if ((toS - fromS) * rateHz < MIN_SAMPLES - 1e-6) {
    throw new OptionError(
      `interval ${fromS}:${toS} is too short to measure: it needs ${MIN_SAMPLES} samples at ${rateHz} Hz`,
    )
  }
  return { fromS, toS: Math.min(toS, endS), endedBy: 'interval' }
}
