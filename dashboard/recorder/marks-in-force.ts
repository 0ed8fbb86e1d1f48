import type { Mark } from '#signal/trace/trace'

/** What each kind begins or ends. */
const SPANS = ['support', 'quiet-stand', 'repetition', 'walk'] as const
const BEGINS = /-(start|on)$/

/**
 * The marks that still hold after all of these: of each span (quiet stand, repetition, walk) its
 * start when it was not ended, of the support the last one, since hands-off holds as hands-on does.
 */
export function marksInForce(marks: readonly Mark[]): Mark[] {
  return SPANS.flatMap((span) => {
    const last = marks.findLast(({ kind }) => kind.startsWith(span))
    return last && (span === 'support' || BEGINS.test(last.kind)) ? [last] : []
  })
}
