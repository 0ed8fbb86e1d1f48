import type { StoredEdits } from '../edits.ts'

interface Difference<T> {
  added?: T[]
  removed?: T[]
  changed?: { before: T; after: T }[]
}

/** What one document of edits has that another has not, for the audit trail; null when nothing. */
export function editDifferences(before: StoredEdits, after: StoredEdits): object | null {
  const marks = differenceOf(before.marks, after.marks)
  const holds = differenceOf(before.holds, after.holds)
  if (!marks && !holds) return null
  return { ...(marks && { marks }), ...(holds && { holds }) }
}

function differenceOf<T extends { readonly id: string }>(
  before: readonly T[],
  after: readonly T[],
): Difference<T> | null {
  const old = new Map(before.map((one) => [one.id, one]))
  const kept = new Set(after.map(({ id }) => id))
  const added = after.filter(({ id }) => !old.has(id))
  const removed = before.filter(({ id }) => !kept.has(id))
  const changed = after.flatMap((one) => {
    const earlier = old.get(one.id)
    return earlier && differs(earlier, one) ? [{ before: earlier, after: one }] : []
  })
  if (added.length + removed.length + changed.length === 0) return null
  return {
    ...(added.length > 0 && { added }),
    ...(removed.length > 0 && { removed }),
    ...(changed.length > 0 && { changed }),
  }
}

function differs(before: object, after: object): boolean {
  const fields = Object.entries(after)
  return fields.some(([name, value]) => (before as Record<string, unknown>)[name] !== value)
}
