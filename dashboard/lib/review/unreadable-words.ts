import type { UnreadablePart } from '#protocol/unreadable-part'
import { clock } from '../format'

/** More than these are counted. */
const MOST_NAMED = 5

/** "0:40 to 1:22 and 2:00 to 2:41": in whole seconds, never less than what is damaged. */
export function unreadableWords(parts: readonly UnreadablePart[]): string {
  const named = parts
    .slice(0, MOST_NAMED)
    .map(({ fromS, toS }) => `${clock(fromS)} to ${clock(Math.ceil(toS))}`)
  const others = parts.length - named.length
  return [...named, ...(others > 0 ? [`${others} more parts`] : [])].join(' and ')
}
