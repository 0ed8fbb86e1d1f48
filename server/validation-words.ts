/** One complaint of the schema check, as JSON Schema validators tell it. */
export interface Complaint {
  readonly keyword: string
  readonly instancePath: string
  readonly message?: string
  readonly params?: unknown
}

/** More than any union of ours has members: the list of allowed words is whole. */
export const MAX_COMPLAINTS = 64

/** How many places are named. */
const MOST_PLACES = 3

/**
 * What is wrong, a phrase for each place: the members of a union are told once, with the words they allow.
 * `root` names the whole; a place within it is `root.marks.0.kind`.
 */
export function validationWords(complaints: readonly Complaint[], root: string): string {
  const places = new Map<string, Complaint[]>()
  for (const one of complaints) {
    const { instancePath: path } = one
    places.set(path, [...(places.get(path) ?? []), one])
  }
  const phrases = [...places].flatMap(([path, all]) => {
    const isAsked = [...places.keys()].some((other) => other.startsWith(`${path}/`))
    const words = wordsOf(all, isAsked)
    return words === null ? [] : [`${root}${path.replaceAll('/', '.')} ${words}`]
  })
  return phrases.slice(0, MOST_PLACES).join('; ')
}

/** Null where a place within says more: an object or nothing, and an object it was meant to be. */
function wordsOf(all: readonly Complaint[], hasInner: boolean): string | null {
  const allowed = all.flatMap(({ keyword, params }) =>
    keyword === 'const' ? [String((params as { allowedValue: unknown }).allowedValue)] : [],
  )
  const types = all.flatMap(({ keyword, params }) =>
    keyword === 'type' ? [(params as { type: unknown }).type].flat().map(String) : [],
  )
  const others = all.filter(({ keyword }) => !['const', 'type', 'anyOf'].includes(keyword))
  if (others.length > 0) return [...new Set(otherWords(others))].join(' and ')
  if (hasInner) return null
  const told = [...new Set([...allowed, ...types])]
  if (allowed.length > 0) return `must be ${told.length > 1 ? 'one of ' : ''}${told.join(', ')}`
  if (types.length > 0) return `must be ${told.join(' or ')}`
  return all[0].message ?? 'is not valid'
}

function otherWords(others: readonly Complaint[]): string[] {
  if (others.some(isBlank)) return ['must not be blank']
  return others.map(({ message, params }) => {
    const extra = (params as { additionalProperties?: string[] } | undefined)?.additionalProperties
    return `${message}${extra ? ` (${extra.join(', ')})` : ''}`
  })
}

const isBlank = ({ keyword, params }: Complaint) =>
  keyword === 'pattern' && String((params as { pattern: unknown }).pattern) === '\\S'
