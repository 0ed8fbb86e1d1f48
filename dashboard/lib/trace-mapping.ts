import type { Problem } from '#protocol/resources'

export const UNIT_CODES: readonly string[] = ['UNKNOWN_UNIT', 'UNIT_CONTRADICTION']
export const COLUMN_CODES: readonly string[] = ['AMBIGUOUS_COLUMNS', 'NO_COLUMNS', 'NO_TIME', 'BAD_MAPPING']

const ROLES = ['t', 'ax', 'ay', 'az'] as const

/** Which column of a file holds what: its name, or its number from 1; empty when not said. */
export type TraceColumns = Record<(typeof ROLES)[number], string>

/** The mapping the server reads, `t=time,ax=1,ay=2,az=3`, of what is said; undefined for nothing. */
export function columnsOf(columns: TraceColumns): string | undefined {
  const said = ROLES.filter((role) => columns[role].trim() !== '')
  return said.length === 0 ? undefined : said.map((role) => `${role}=${columns[role].trim()}`).join(',')
}

/** The inputs of a mapping made by `columnsOf`; a name may hold commas and equals signs. */
export function columnInputs(mapping: string | undefined): TraceColumns {
  const inputs: TraceColumns = { t: '', ax: '', ay: '', az: '' }
  for (const part of mapping?.split(new RegExp(`,(?=(?:${ROLES.join('|')})=)`)) ?? []) {
    const role = ROLES.find((name) => part.startsWith(`${name}=`))
    if (role) inputs[role] = part.slice(role.length + 1)
  }
  return inputs
}

/** What to do about a refused file: on the screen columns and unit are said in the inputs below. */
export function remedyWords({ code, remedy = '' }: Pick<Problem, 'code' | 'remedy'>): string {
  if (COLUMN_CODES.includes(code) && remedy.includes('ax=')) {
    return 'Say below which column of the file holds what.'
  }
  return remedy.replace(/\bm\/s2\b/g, 'm/s²')
}
