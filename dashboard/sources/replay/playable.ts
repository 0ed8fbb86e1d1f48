import { findGaps } from '#signal/trace/gaps'
import type { ParsedTrace } from '#signal/trace/parse'
import { uniformStretches } from '#signal/trace/resample'
import type { Mark } from '#signal/trace/trace'

/** A run of samples without a hole: index of the first, and one array per channel. */
export interface Run {
  readonly firstIndex: number
  readonly values: readonly Float64Array[]
}

/** A trace as a sensor with a counter would have sent it. */
export interface Playable {
  readonly rateHz: number
  readonly channels: 3 | 6
  readonly runs: readonly Run[]
  readonly marks: readonly Mark[]
  /** One past the last index. */
  readonly endIndex: number
}

/** What to tell of a trace before it is played. */
export interface TracePreview {
  readonly rateHz: number
  readonly durationS: number
  readonly samples: number
  readonly unit: string
  readonly gyroscope: boolean
  readonly marks: number
  readonly gaps: number
  readonly gapS: number
  /** Whether the samples had to be put on an even grid. */
  readonly resampled: boolean
  readonly notes: readonly string[]
}

/**
 * Samples that stand evenly at the trace's rate keep their values; uneven ones are interpolated within their
 * gap-free runs as for the analysis (`uniformStretches`). Gaps become jumps of the index. Each run begins
 * at the index nearest to its first sample.
 */
export function playable({ trace, stampResolutionS }: ParsedTrace): Playable {
  const { rateHz } = trace
  const { stretches } = uniformStretches(trace, { rateHz, stampResolutionS })
  let endIndex = 0
  const runs: Run[] = []
  for (const { startS, acc, gyr } of stretches) {
    const values = [acc.x, acc.y, acc.z, ...(gyr ? [gyr.x, gyr.y, gyr.z] : [])]
    // Rounding may put the start of a run on the last place of the one before.
    const firstIndex = Math.max(endIndex, Math.round(startS * rateHz))
    runs.push({ firstIndex, values })
    endIndex = firstIndex + values[0].length
  }
  return { rateHz, channels: trace.gyr ? 6 : 3, runs, marks: trace.marks, endIndex }
}

export function previewOf(parsed: ParsedTrace, { runs }: Playable): TracePreview {
  const { t, rateHz, gyr, marks } = parsed.trace
  const gaps = findGaps(t, rateHz)
  return {
    rateHz,
    durationS: t.length === 0 ? 0 : t[t.length - 1] + 1 / rateHz,
    samples: t.length,
    unit: parsed.unit,
    gyroscope: gyr !== undefined,
    marks: marks.length,
    gaps: gaps.length,
    gapS: gaps.reduce((sum, { fromS, toS }) => sum + toS - fromS, 0),
    resampled: !keepsSamples(parsed, runs),
    notes: parsed.notes,
  }
}

/** Even samples are views on the memory of the trace: nothing was computed anew. */
function keepsSamples({ trace }: ParsedTrace, runs: readonly Run[]): boolean {
  return runs.every(({ values }) => values[0].buffer === trace.acc.x.buffer)
}
