import type { HoldReport, RepetitionReport, SessionReport } from '../report-types.ts'
import type { Mark } from '../trace/trace.ts'
import type { Span } from './support.ts'

/** Without marks, a pause between holds at least this long begins a new repetition, s (our choice). */
const PAUSE_S = 5

export interface Repetitions {
  readonly repetitions: RepetitionReport[]
  readonly basis: SessionReport['repetitionBasis']
}

/** Groups holds into repetitions: by the marks when there are any, else by the pauses between them. */
export function groupRepetitions(
  holds: readonly HoldReport[],
  marks: readonly Mark[],
  durationS: number,
): Repetitions {
  const marked = markedSpans(marks, durationS)
  if (marked.length > 0) {
    const repetitions = marked.map((span) =>
      repetition(
        span,
        holds.filter((hold) => overlaps(hold, span)),
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
    repetition({ fromS: group[0].fromS, toS: group.at(-1)!.toS }, group),
  )
  return { repetitions, basis: 'pauses between holds' }
}

function markedSpans(marks: readonly Mark[], durationS: number): Span[] {
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

function repetition(span: Span, holds: readonly HoldReport[]): RepetitionReport {
  const holdS = holds.reduce((sum, hold) => sum + hold.durationS, 0)
  const handsOff = holds.map((hold) => hold.handsOffS)
  const squares = holds.reduce((sum, hold) => sum + hold.sway.rms.horizontal ** 2 * hold.durationS, 0)
  const unknown = handsOff.includes(null)
  const reasons = [
    ...(holdS > 0 ? [] : ['no hold in it']),
    ...(unknown ? ['hands on or off was not marked for all of it'] : []),
  ]
  return {
    fromS: span.fromS,
    toS: span.toS,
    holdS,
    handsOffS: unknown ? null : handsOff.reduce<number>((sum, s) => sum + s!, 0),
    swayRms: holdS > 0 ? Math.sqrt(squares / holdS) : null,
    ...(reasons.length > 0 ? { reason: reasons.join('; ') } : {}),
  }
}
