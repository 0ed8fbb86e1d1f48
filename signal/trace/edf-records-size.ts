import { numberField } from './edf-field.ts'

/** How the samples of a recording are cut into data records. */
export interface RecordSize {
  readonly samples: number
  /** As the header writes it. */
  readonly durationS: string
  /** Samples that fill up the very last record. */
  readonly filling: number
}

/** EDF recommends at most so many bytes a record. */
export const MAX_RECORD_BYTES = 61440
/** Shorter records, s, would spend more bytes on their times than on samples. */
const SHORTEST_S = 0.1
const LONGEST_S = 5
/** A duration of 8 characters this far off costs 0.1 ms in a minute at most. */
const EXACT = 1e-6

/**
 * Records close to 1 s whose duration can be written in 8 characters. No stretch but the last may end
 * within a record, since the samples that would fill it up lie in a gap; the last one is filled up only
 * when no size of 0.1 to 5 s divides it too.
 *
 * @param lengths samples per gap-free stretch, each >= 1
 * @param maxSamples samples of one signal a record may hold
 */
export function recordSize(lengths: readonly number[], rateHz: number, maxSamples: number): RecordSize {
  const inner = lengths.slice(0, -1).reduce(commonDivisor, 0)
  const all = commonDivisor(inner, lengths[lengths.length - 1])
  const fitting =
    best(all, SHORTEST_S, rateHz, maxSamples) ??
    best(inner, SHORTEST_S, rateHz, maxSamples) ??
    best(inner, 0, rateHz, maxSamples) ??
    1
  const last = lengths[lengths.length - 1] % fitting
  return {
    samples: fitting,
    durationS: numberField(fitting / rateHz, 'nearest'),
    filling: last === 0 ? 0 : fitting - last,
  }
}

/** The divisor of `whole` (any number for 0) that gives an exact duration, else the least wrong one; then nearest to 1 s. */
function best(whole: number, shortestS: number, rateHz: number, maxSamples: number): number | null {
  let found: { samples: number; error: number; far: number } | null = null
  const longest = Math.min(maxSamples, Math.floor(LONGEST_S * rateHz))
  for (let samples = Math.max(1, Math.ceil(shortestS * rateHz)); samples <= longest; samples++) {
    if (whole % samples !== 0) continue
    const trueS = samples / rateHz
    const error = Math.max(EXACT, Math.abs(Number(numberField(trueS, 'nearest')) / trueS - 1))
    const far = Math.abs(Math.log(trueS))
    if (found === null || error < found.error || (error === found.error && far < found.far)) {
      found = { samples, error, far }
    }
  }
  return found?.samples ?? null
}

function commonDivisor(a: number, b: number): number {
  return b === 0 ? a : commonDivisor(b, a % b)
}
