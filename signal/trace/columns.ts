import { TraceError } from './trace-error.ts'

export const COLUMN_ROLES = ['t', 'ax', 'ay', 'az', 'gx', 'gy', 'gz', 'support', 'mark'] as const
export type ColumnRole = (typeof COLUMN_ROLES)[number]

/** Which column holds what: a header name, or the number of the column counted from 1. */
export type ColumnMapping = Partial<Record<ColumnRole, string | number>>

const REMEDY = 'Write for example t=time,ax=acc_x,ay=acc_y,az=acc_z (names or column numbers from 1).'

/**
 * Reads the command-line form of a mapping, `t=…,ax=…,ay=…,az=…`; digits alone are a column
 * number. A name may hold commas and equals signs.
 *
 * @throws {TraceError} BAD_MAPPING
 */
export function parseColumns(spec: string): ColumnMapping {
  const mapping: ColumnMapping = {}
  const parts = spec.split(new RegExp(`,(?=\\s*(?:${COLUMN_ROLES.join('|')})\\s*=)`))
  for (const part of parts) {
    const equals = part.indexOf('=')
    const role = part.slice(0, Math.max(equals, 0)).trim()
    const value = part.slice(equals + 1).trim()
    if (!isRole(role) || value === '') {
      throw new TraceError('BAD_MAPPING', `"${part.trim()}" names no column role and column`, REMEDY, {
        value: part,
      })
    }
    if (mapping[role] !== undefined) {
      throw new TraceError('BAD_MAPPING', `"${role}" is given twice`, REMEDY, { value: part })
    }
    mapping[role] = /^\d+$/.test(value) ? Number(value) : value
  }
  checkMapping(mapping)
  return mapping
}

/**
 * Whether the mapping says which columns are the acceleration; if not, they are found by name, as without one.
 */
export const namesAxes = (mapping: ColumnMapping): boolean =>
  (['ax', 'ay', 'az', 'gx', 'gy', 'gz'] as const).some((role) => mapping[role] !== undefined)

/** @throws {TraceError} BAD_MAPPING when only some axes are named or a role is unknown */
export function checkMapping(mapping: ColumnMapping): void {
  for (const role of Object.keys(mapping)) {
    if (!isRole(role))
      throw new TraceError('BAD_MAPPING', `"${role}" is no column role`, REMEDY, { value: role })
  }
  for (const role of ['ax', 'ay', 'az'] as const) {
    if (mapping[role] === undefined && namesAxes(mapping))
      throw new TraceError('BAD_MAPPING', `no column is given for "${role}"`, REMEDY)
  }
  const roleOf = new Map<string | number, string>()
  for (const [role, column] of Object.entries(mapping)) {
    const other = roleOf.get(column)
    if (other !== undefined) {
      throw new TraceError('BAD_MAPPING', `column "${column}" is given for both ${other} and ${role}`, REMEDY)
    }
    roleOf.set(column, role)
  }
  const gyro = (['gx', 'gy', 'gz'] as const).filter((role) => mapping[role] !== undefined)
  if (gyro.length === 1 || gyro.length === 2) {
    throw new TraceError('BAD_MAPPING', `only ${gyro.join(' and ')} of gx, gy, gz is given`, REMEDY)
  }
}

function isRole(text: string): text is ColumnRole {
  return (COLUMN_ROLES as readonly string[]).includes(text)
}
