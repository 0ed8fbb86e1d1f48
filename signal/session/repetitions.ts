import type { HoldReport, RepetitionReport, SessionReport } from '../report-types.ts'
import type { Mark } from '../trace/trace.ts'
import type { Span } from './support.ts'

/** Without marks, a pause between holds at least this long begins a new repetition, s (our choice). */
export const PAUSE_S = 5

export interface Repetitions {
  readonly repetitions: RepetitionReport[]
  readonly basis: SessionReport['repetitionBasis']
}

/** Sway of the part of a hold that counts: its energy (m²/s⁴·s) and how long it is (s). */
export interface CountedSway {
  readonly squares: number
  readonly seconds: number
}

/** The whole hold counts. */
export function wholeHoldSway(hold: HoldReport): CountedSway {
  return { squares: hold.sway.rms.horizontal ** 2 * hold.durationS, seconds: hold.durationS }
}

/**
 * Groups holds into repetitions: by the marks when there are any, else by the pauses between them.
 * @param swayOf what of a hold counts for the sway of its repetition: all of it unless said
 */
export function groupRepetitions(
  holds: readonly HoldReport[],
  marks: readonly Mark[],
  durationS: number,
  swayOf: (hold: HoldReport) => CountedSway = wholeHoldSway,
): Repetitions {
  const marked = markedSpans(marks, durationS)
  if (marked.length > 0) {
    const repetitions = marked.map((span) =>
      repetition(
        span,
        holds.filter((hold) => overlaps(hold, span)),
        swayOf,
      ),
    )
    return { repetitions, basis: 'marks' }
  }
  const groups: HoldReport[][] = []
  for (const hold of holds) {
    const last = groups.at(-1)
    if (last && hold.fromS - last.at(-1)!.toS < PAUSE_S) last.push(hold)
    else groups.push([hold])
  }
  const repetitions = groups.map((group) =>
    repetition({ fromS: group[0].fromS, toS: group.at(-1)!.toS }, group, swayOf),
  )
  return { repetitions, basis: 'pauses between holds' }
}

/** The repetitions people marked; one that nobody ended lasts to `durationS`. */
export function markedSpans(marks: readonly Mark[], durationS: number): Span[] {
  const spans: Span[] = []
  let since: number | null = null
  for (const mark of marks) {
    if (mark.kind === 'repetition-start') {
      if (since !== null && mark.atS > since) spans.push({ fromS: since, toS: mark.atS })
      since = mark.atS
    } else if (mark.kind === 'repetition-end' && since !== null) {
      if (mark.atS > since) spans.push({ fromS: since, toS: mark.atS })
      since = null
    }
  }
  if (since !== null && since < durationS) spans.push({ fromS: since, toS: durationS })
  return spans
}

/** A hold belongs to the repetition in which its middle lies. */
function overlaps(hold: Span, span: Span): boolean {
  const middle = (hold.fromS + hold.toS) / 2
  return middle >= span.fromS && middle < span.toS
}

function repetition(
  span: Span,
  holds: readonly HoldReport[],
  swayOf: (hold: HoldReport) => CountedSway,
): RepetitionReport {
  const holdS = holds.reduce((sum, hold) => sum + hold.durationS, 0)
  const handsOff = holds.map((hold) => hold.handsOffS)
  const counted = holds.map(swayOf)
  const squares = counted.reduce((sum, part) => sum + part.squares, 0)
  const seconds = counted.reduce((sum, part) => sum + part.seconds, 0)
  const unknown = handsOff.includes(null)
  const reasons = [
    ...(holdS > 0 ? [] : ['no hold in it']),
    ...(holdS > 0 && seconds === 0 ? ['nothing of its holds was hands-off long enough to measure'] : []),
    ...(unknown ? ['hands on or off was not marked for all of it'] : []),
  ]
  return {
    fromS: span.fromS,
    toS: span.toS,
    holdS,
    handsOffS: unknown ? null : handsOff.reduce<number>((sum, s) => sum + s!, 0),
    swayRms: seconds > 0 ? Math.sqrt(squares / seconds) : null,
    ...(reasons.length > 0 ? { reason: reasons.join('; ') } : {}),
  }
}
