/**
 * Where the samples of a stream lie in InfluxDB: one series a dog and slot, sample `index` at its own microsecond.
 *
 * Tags are the dog and a slot, a small number: streams of a dog whose times overlap lie in different slots. Series are
 * thereby bounded by dogs and by what one dog records at once. A tag with the stream would make a new series of every
 * session for ever, and InfluxDB 1.x ends at 100,000 values of a tag (max-values-per-tag).
 */
export interface Place {
  readonly dogId: string
  readonly slot: number
  /** UTC µs of sample 0. */
  readonly baseUs: number
  readonly periodUs: number
  /** What may be written lies before this. */
  readonly endUs: number
}

export const MEASUREMENT = 'samples'

/** InfluxDB keeps 64-bit nanoseconds, to the year 2262; JavaScript counts µs exactly to the year 2255. */
const LATEST_US = Number.MAX_SAFE_INTEGER

/** Closer than this two samples might share a microsecond. */
const SHORTEST_PERIOD_US = 2

/** Of a stream by its nominal rate: never by one that was fitted, so that the same sample always has the same time. */
export function periodUs(rateHz: number): number {
  return Math.max(1e6 / rateHz, SHORTEST_PERIOD_US)
}

export function timeUs({ baseUs, periodUs }: Pick<Place, 'baseUs' | 'periodUs'>, index: number): number {
  return baseUs + Math.round(index * periodUs)
}

export function indexAt({ baseUs, periodUs }: Place, us: number): number {
  return Math.round((us - baseUs) / periodUs)
}

/** A start that InfluxDB can hold with something after it; null for others, whoever stated them. */
export function usableBaseUs(startedAtUs: number | null): number | null {
  if (startedAtUs === null || !Number.isSafeInteger(startedAtUs)) return null
  return startedAtUs >= 0 && startedAtUs < 0.9 * LATEST_US ? startedAtUs : null
}

export function isStorable(endUs: number): boolean {
  return Number.isSafeInteger(endUs) && endUs < LATEST_US
}

/** Percent-encoded: no id needs escaping then, in lines, InfluxQL or predicates. */
export function tagsOf({ dogId, slot }: Pick<Place, 'dogId' | 'slot'>): { dog: string; slot: string } {
  return { dog: encodeURIComponent(dogId).replaceAll("'", '%27'), slot: String(slot) }
}
