/** A number of a report that another analysis gives otherwise. */
export interface MovedNumber {
  /** Where it stands, e.g. `holds[1].sway.rms.horizontal`. */
  readonly path: string
  /** Null where there was none. */
  readonly before: number | null
  /** Null where there is none any more. */
  readonly after: number | null
  /** |after − before| over the larger of the two amounts, 0..2; 1 where one of the two is missing. */
  readonly share: number
}

/** Below this share two numbers are one: processors round the last digits of a sine differently. */
const ROUNDING = 1e-9

/**
 * What moved between two documents of one shape, in the order of the older one. Parts with a time of their own (holds,
 * repetitions) are compared with those they overlap, so that one more at the beginning does not move all others.
 * @returns how many numbers there are in either, and those that are not the same
 */
export function movedNumbers(before: unknown, after: unknown): { count: number; moved: MovedNumber[] } {
  const moved: MovedNumber[] = []
  let count = 0
  const visit = (path: string, was: unknown, is: unknown): void => {
    const [a, b] = [numberOf(was), numberOf(is)]
    if (a !== null || b !== null) {
      count++
      const share = shareOf(a, b)
      if (share > ROUNDING) moved.push({ path, before: a, after: b, share })
    }
    if (Array.isArray(was) || Array.isArray(is)) {
      for (const [index, pair] of paired(listOf(was), listOf(is)).entries())
        visit(`${path}[${index}]`, ...pair)
      return
    }
    const [left, right] = [recordOf(was), recordOf(is)]
    for (const name of new Set([...Object.keys(left), ...Object.keys(right)])) {
      visit(path === '' ? name : `${path}.${name}`, left[name], right[name])
    }
  }
  visit('', before, after)
  return { count, moved }
}

const numberOf = (value: unknown): number | null => (typeof value === 'number' ? value : null)
const listOf = (value: unknown): readonly unknown[] => (Array.isArray(value) ? value : [])
const recordOf = (value: unknown): Readonly<Record<string, unknown>> =>
  typeof value === 'object' && value !== null && !Array.isArray(value) ? { ...value } : {}

function shareOf(before: number | null, after: number | null): number {
  if (before === null || after === null) return before === after ? 0 : 1
  const largest = Math.max(Math.abs(before), Math.abs(after))
  return largest === 0 ? 0 : Math.abs(after - before) / largest
}

interface Timed {
  readonly fromS: number
  readonly toS: number
}

const isTimed = (value: unknown): value is Timed => {
  const { fromS, toS } = recordOf(value)
  return typeof fromS === 'number' && typeof toS === 'number'
}

/** Each of the one list with one of the other, or with nothing. */
function paired(before: readonly unknown[], after: readonly unknown[]): [unknown, unknown][] {
  if (![...before, ...after].every(isTimed)) {
    return Array.from({ length: Math.max(before.length, after.length) }, (_, i) => [before[i], after[i]])
  }
  const left = new Set(after as readonly Timed[])
  const pairs = (before as readonly Timed[]).map((one): [unknown, unknown] => {
    const best = [...left].reduce<Timed | undefined>(
      (found, other) => (overlapS(one, other) > (found ? overlapS(one, found) : 0) ? other : found),
      undefined,
    )
    if (best) left.delete(best)
    return [one, best]
  })
  return [...pairs, ...[...left].map((one): [unknown, unknown] => [undefined, one])]
}

function overlapS(a: Timed, b: Timed): number {
  return Math.min(a.toS, b.toS) - Math.max(a.fromS, b.fromS)
}
