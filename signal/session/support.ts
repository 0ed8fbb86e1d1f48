import type { Mark } from '../trace/trace.ts'

export interface Span {
  readonly fromS: number
  readonly toS: number
}

/** Who carried the weight when, as people marked it. */
export interface Support {
  /** False when the recording holds no support mark: then nobody can say. */
  readonly known: boolean
  /** Hands-off spans, ascending, inside the recording. */
  readonly handsOff: readonly Span[]
  /** Start of what is known: the first support mark, s. */
  readonly knownFromS: number
}

/** Reads the support marks of a recording of `durationS`. Before the first mark support is unknown. */
export function supportOf(marks: readonly Mark[], durationS: number): Support {
  const handsOff: Span[] = []
  let knownFromS = Number.POSITIVE_INFINITY
  let offSince: number | null = null
  for (const mark of marks) {
    if (mark.kind !== 'support-on' && mark.kind !== 'support-off') continue
    knownFromS = Math.min(knownFromS, mark.atS)
    if (mark.kind === 'support-off') offSince ??= mark.atS
    else if (offSince !== null) {
      if (mark.atS > offSince) handsOff.push({ fromS: offSince, toS: mark.atS })
      offSince = null
    }
  }
  if (offSince !== null && offSince < durationS) handsOff.push({ fromS: offSince, toS: durationS })
  return { known: Number.isFinite(knownFromS), handsOff, knownFromS }
}

/** The parts of a hold during which nobody held the dog. */
export function handsOffWithin(support: Support, hold: Span): Span[] {
  const parts: Span[] = []
  for (const span of support.handsOff) {
    const fromS = Math.max(span.fromS, hold.fromS)
    const toS = Math.min(span.toS, hold.toS)
    if (toS > fromS) parts.push({ fromS, toS })
  }
  return parts
}

/** The part of a span for which support is known; null before the first mark. */
export function knownWithin(support: Support, hold: Span): Span | null {
  const fromS = Math.max(hold.fromS, support.knownFromS)
  return fromS < hold.toS ? { fromS, toS: hold.toS } : null
}

/** Total length of spans, s. */
export function totalS(spans: readonly Span[]): number {
  return spans.reduce((sum, span) => sum + span.toS - span.fromS, 0)
}
