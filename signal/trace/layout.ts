import { checkMapping, namesAxes } from './columns.ts'
import { readColumnName } from './column-name.ts'
import { headerlessLayout } from './headerless-layout.ts'
import { shorten, TraceError } from './trace-error.ts'
import { timeNameRank } from './time-column-name.ts'
import type { AxisLetter, ColumnName } from './column-name.ts'
import type { ColumnMapping, ColumnRole } from './columns.ts'
import type { Table } from './table.ts'

export type Triple = readonly [number, number, number]

/** Which column of a table holds what, counted from 0. */
export interface Layout {
  readonly time: number | null
  readonly acc: Triple
  readonly gyr: Triple | null
  readonly support: number | null
  readonly mark: number | null
  readonly notes: readonly string[]
}

const MAP_REMEDY = 'Name the columns as t=…,ax=…,ay=…,az=….'
const SUPPORT_NAMES = new Set(['support', 'hands', 'handson', 'hands on'])
const MARK_NAMES = new Set(['mark', 'marks', 'marker', 'event', 'events', 'annotation'])

/**
 * Finds the columns: the given mapping, else the header's names, else (no header) the order.
 *
 * @param rateKnown a sample rate was given, so that a time column may be missing
 * @throws {TraceError} NO_COLUMNS, AMBIGUOUS_COLUMNS, NO_TIME, BAD_MAPPING
 */
export function findLayout(table: Table, mapping: ColumnMapping | undefined, rateKnown: boolean): Layout {
  if (mapping !== undefined) return mappedLayout(table, mapping, rateKnown)
  if (table.header === null) return headerlessLayout(table, rateKnown)
  const axes = namedAxes(table)
  return { ...axes, ...namedExtras(table.header), time: timeColumn(table.header, rateKnown) }
}

function mappedLayout(table: Table, mapping: ColumnMapping, rateKnown: boolean): Layout {
  checkMapping(mapping)
  const at = (role: ColumnRole): number => resolve(table, role, mapping[role] as string | number)
  const optional = (role: ColumnRole): number | null => (mapping[role] === undefined ? null : at(role))
  const extras = table.header === null ? { support: null, mark: null } : namedExtras(table.header)
  let time = optional('t')
  if (time === null && !rateKnown) {
    if (table.header === null) throw noTime([])
    time = timeColumn(table.header, false)
  }
  return {
    ...(namesAxes(mapping) ? mappedAxes(mapping, at) : namedAxes(table)),
    time,
    support: optional('support') ?? extras.support,
    mark: optional('mark') ?? extras.mark,
  }
}

type Axes = Pick<Layout, 'acc' | 'gyr' | 'notes'>

function mappedAxes(mapping: ColumnMapping, at: (role: ColumnRole) => number): Axes {
  const gyr: Triple | null = mapping.gx === undefined ? null : [at('gx'), at('gy'), at('gz')]
  return { acc: [at('ax'), at('ay'), at('az')], gyr, notes: [] }
}

/** The axes by their names, where a mapping says other columns only. */
function namedAxes({ header }: Table): Axes {
  if (header === null) {
    throw new TraceError('NO_COLUMNS', 'the file has no header that names the acceleration', MAP_REMEDY)
  }
  const names = header.map(readColumnName)
  const [acc, place] = accColumns(header, names)
  return { acc, ...gyroColumns(names, place) }
}

function resolve(table: Table, role: ColumnRole, wanted: string | number): number {
  if (typeof wanted === 'number') {
    if (Number.isInteger(wanted) && wanted >= 1 && wanted <= table.width) return wanted - 1
    throw new TraceError(
      'NO_COLUMNS',
      `${role}=${wanted}: the file has columns 1 to ${table.width}`,
      MAP_REMEDY,
    )
  }
  const header = table.header
  if (header === null) {
    throw new TraceError(
      'NO_COLUMNS',
      `${role}=${shorten(wanted)}: the file has no header`,
      'Give column numbers from 1 instead of names.',
    )
  }
  const same = (a: string, b: string) => a.trim().toLowerCase() === b.trim().toLowerCase()
  let found = header.flatMap((name, i) => (name === wanted.trim() ? [i] : []))
  if (found.length === 0) found = header.flatMap((name, i) => (same(name, wanted) ? [i] : []))
  if (found.length === 1) return found[0]
  const what = `${found.length === 0 ? 'no column is' : `${found.length} columns are`} named "${shorten(wanted)}"`
  const code = found.length === 0 ? 'NO_COLUMNS' : 'AMBIGUOUS_COLUMNS'
  throw new TraceError(code, what, `The file has ${listNames(header)}; a column number from 1 works too.`)
}

function timeColumn(header: readonly string[], rateKnown: boolean): number | null {
  const ranks = header.map(timeNameRank)
  const best = Math.max(0, ...ranks)
  if (best === 0) {
    if (rateKnown) return null
    throw noTime(header)
  }
  const found = ranks.flatMap((rank, i) => (rank === best ? [i] : []))
  if (found.length === 1) return found[0]
  throw new TraceError(
    'AMBIGUOUS_COLUMNS',
    `several columns could be the time: ${listNames(found.map((i) => header[i]))}`,
    MAP_REMEDY,
  )
}

function noTime(header: readonly string[]): TraceError {
  const among = header.length === 0 ? '' : ` among ${listNames(header)}`
  return new TraceError(
    'NO_TIME',
    `no time column was found${among} and no sample rate is known`,
    'Give the samples per second, or name the time column as t=….',
  )
}

interface AxisGroup {
  readonly place: string
  readonly columns: Record<AxisLetter, number[]>
}

function groups(names: readonly ColumnName[], sensors: readonly string[]): AxisGroup[] {
  const byWords = new Map<string, AxisGroup>()
  names.forEach((name, i) => {
    if (name.axis === null || !sensors.includes(name.sensor)) return
    const key = name.words.join(' ')
    const group = byWords.get(key) ?? { place: name.place, columns: { x: [], y: [], z: [] } }
    group.columns[name.axis].push(i)
    byWords.set(key, group)
  })
  return [...byWords.values()].filter(
    ({ columns: { x, y, z } }) => x.length > 0 && y.length > 0 && z.length > 0,
  )
}

function accColumns(header: readonly string[], names: readonly ColumnName[]): [Triple, string] {
  for (const sensor of ['acc', 'bare', 'linear acc']) {
    const found = groups(names, [sensor])
    const isSingle = found.length === 1 && Object.values(found[0].columns).every((list) => list.length === 1)
    if (isSingle) return [tripleOf(found[0]), found[0].place]
    if (found.length === 0) continue
    const candidates = found.map(({ columns }) =>
      listNames(Object.values(columns).flatMap((list) => list.map((i) => header[i]))),
    )
    const [x, y, z] = (['x', 'y', 'z'] as const).map((axis) => header[found[0].columns[axis][0]])
    throw new TraceError(
      'AMBIGUOUS_COLUMNS',
      `several column sets could be the acceleration: ${candidates.join('; ')}`,
      `Choose one, for example as columns ax=${x},ay=${y},az=${z}.`,
    )
  }
  throw new TraceError('NO_COLUMNS', `no three acceleration columns among ${listNames(header)}`, MAP_REMEDY)
}

function tripleOf({ columns }: AxisGroup): Triple {
  return [columns.x[0], columns.y[0], columns.z[0]]
}

function gyroColumns(names: readonly ColumnName[], place: string): Pick<Layout, 'gyr' | 'notes'> {
  const all = groups(names, ['gyro'])
  const found = all.length > 1 ? all.filter((group) => group.place === place) : all
  if (found.length === 1 && Object.values(found[0].columns).every((list) => list.length === 1)) {
    return { gyr: tripleOf(found[0]), notes: [] }
  }
  if (all.length === 0) return { gyr: null, notes: [] }
  return {
    gyr: null,
    notes: [
      'Several column sets could be the gyroscope; none was used. Name them as columns gx=…,gy=…,gz=….',
    ],
  }
}

function namedExtras(header: readonly string[]): Pick<Layout, 'support' | 'mark'> {
  const only = (names: ReadonlySet<string>): number | null => {
    const found = header.flatMap((name, i) =>
      names.has(name.toLowerCase().replace(/[_-]/g, ' ')) ? [i] : [],
    )
    return found.length === 1 ? found[0] : null
  }
  return { support: only(SUPPORT_NAMES), mark: only(MARK_NAMES) }
}

function listNames(names: readonly string[]): string {
  const shown = names.slice(0, 12).map((name) => `"${shorten(name)}"`)
  return shown.join(', ') + (names.length > 12 ? ` and ${names.length - 12} more` : '')
}
