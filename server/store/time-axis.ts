import type { StreamClock } from '#signal/clock/stream-clock'

/**
 * Marks of a live stream are stored in seconds of its nominal rate, as index ÷ rate, so that they stay what
 * they are whatever the clock turns out to be. Once the stream has ended people see everything on the axis of
 * its report, in seconds of the fitted clock.
 */

/** Seconds people see per second stored; 1 while the nominal rate is taken, and for uploads. */
export function timeScale(clock: StreamClock | undefined): number {
  return clock ? clock.nominalRateHz / clock.rateHz : 1
}

/** Rounded to µs: a time that is given, stored and read again is the same. */
export function shownS(storedS: number, scale: number): number {
  return scale === 1 ? storedS : Math.round(storedS * scale * 1e6) / 1e6
}

export function storedS(shown: number, scale: number): number {
  return shown / scale
}
