import type { StoredEdits } from '../edits.ts'

export interface Difference<T> {
  added?: T[]
  removed?: T[]
  changed?: { before: T; after: T }[]
  /** At a time that several share: their ids in order, where it does not follow from what was there before. */
  order?: { at: number; before: string[]; after: string[] }[]
}

/** What one document of edits has that another has not, for the audit trail; null when nothing. */
export function editDifferences(before: StoredEdits, after: StoredEdits): object | null {
  const marks = differenceOf(before.marks, after.marks, ({ atS }) => atS)
  const holds = differenceOf(before.holds, after.holds, ({ fromS }) => fromS)
  if (!marks && !holds) return null
  return { ...(marks && { marks }), ...(holds && { holds }) }
}

function differenceOf<T extends { readonly id: string }>(
  before: readonly T[],
  after: readonly T[],
  timeOf: (one: T) => number,
): Difference<T> | null {
  const old = new Map(before.map((one) => [one.id, one]))
  const kept = new Set(after.map(({ id }) => id))
  const added = after.filter(({ id }) => !old.has(id))
  const removed = before.filter(({ id }) => !kept.has(id))
  const changed = after.flatMap((one) => {
    const earlier = old.get(one.id)
    return earlier && differs(earlier, one) ? [{ before: earlier, after: one }] : []
  })
  const order = orderOf(idsByTime(before, timeOf), idsByTime(after, timeOf))
  if (added.length + removed.length + changed.length + order.length === 0) return null
  return {
    ...(added.length > 0 && { added }),
    ...(removed.length > 0 && { removed }),
    ...(changed.length > 0 && { changed }),
    ...(order.length > 0 && { order }),
  }
}

/** Of one instant, an analysis takes one after another: what is new there comes last unless this says so. */
function orderOf(before: IdsByTime, after: IdsByTime): NonNullable<Difference<unknown>['order']> {
  return [...after].flatMap(([at, ids]) => {
    if (ids.length === 1) return []
    const earlier = before.get(at) ?? []
    const [was, is] = [new Set(earlier), new Set(ids)]
    const implied = [...earlier.filter((id) => is.has(id)), ...ids.filter((id) => !was.has(id))]
    return implied.every((id, i) => id === ids[i]) ? [] : [{ at, before: earlier, after: ids }]
  })
}

type IdsByTime = ReadonlyMap<number, string[]>

function idsByTime<T extends { readonly id: string }>(
  all: readonly T[],
  timeOf: (one: T) => number,
): IdsByTime {
  const ids = new Map<number, string[]>()
  for (const one of all) {
    const at = timeOf(one)
    const known = ids.get(at)
    if (known) known.push(one.id)
    else ids.set(at, [one.id])
  }
  return ids
}

function differs(before: object, after: object): boolean {
  const fields = Object.entries(after)
  return fields.some(([name, value]) => (before as Record<string, unknown>)[name] !== value)
}
