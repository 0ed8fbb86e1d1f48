import { TARGET_RATES_HZ } from '../trace/resample.ts'
import type { StreamClock } from './stream-clock.ts'

/**
 * The even grid of a stream stamped by a fitted clock, Hz: its own, when it was said to have a rate that is
 * measured as it is. So its samples stay untouched, instead of being interpolated to a grid that differs by
 * parts in ten thousand. Undefined when the usual choice is to be made.
 */
export function gridRateHz({ clock }: { readonly clock?: StreamClock }): number | undefined {
  return clock && TARGET_RATES_HZ.includes(clock.nominalRateHz) ? clock.rateHz : undefined
}
