import type { SetUp } from '#protocol/resources'
import type { TrendLine, Trends } from '#protocol/trends'
import type { TrendRow } from '#server/store/trend-source'
import { lineKey, plainWords, sensorKind } from './set-up-key.ts'

export type NotCompared = Trends['notCompared'][number]['reason']

/** A session with a place on a line. */
export interface LineRow extends TrendRow {
  readonly startedAtUs: number
  readonly setUp: SetUp
}

export interface Line {
  readonly key: string
  readonly sensor: TrendLine['sensor']
  /** Oldest first. */
  readonly rows: readonly LineRow[]
}

export interface SortedRows {
  readonly lines: readonly Line[]
  readonly notCompared: ReadonlyMap<TrendRow, NotCompared>
  /** First stand on each surface, whatever the exercise or sensor, by `surfaceKey`; UTC µs. */
  readonly surfaceSinceUs: ReadonlyMap<string, number>
}

/** What a dog learns to stand on; spacing and height do not make it another. */
function surfaceKey({ surface, firmness }: SetUp): string {
  return JSON.stringify([plainWords(surface), firmness ?? null])
}

/**
 * The first stand on the surface of a set-up, UTC µs. Stands before anybody noted its firmness count too: noting it
 * later does not make the surface a new one.
 */
export function firstStandUs({ surfaceSinceUs }: Pick<SortedRows, 'surfaceSinceUs'>, setUp: SetUp): number {
  const unnoted = { ...setUp, firmness: undefined }
  return Math.min(
    ...[setUp, unnoted].map((one) => surfaceSinceUs.get(surfaceKey(one)) ?? Number.POSITIVE_INFINITY),
  )
}

/**
 * One line per set-up and kind of sensor. Sessions without set-up, date or analysis are in none, nor those no
 * sensor measured, unless all of the dog is invented.
 */
export function sortRows(rows: readonly TrendRow[], demo: boolean): SortedRows {
  const lines = new Map<string, Line & { rows: LineRow[] }>()
  const notCompared = new Map<TrendRow, NotCompared>()
  const surfaceSinceUs = new Map<string, number>()
  // Thousands of sessions share a few set-ups: each is named once.
  const names = new Map<SetUp, { phone: string; harness: string; surface: string }>()
  for (const row of rows) {
    const reason = reasonOf(row, demo)
    if (reason !== null) {
      notCompared.set(row, reason)
      continue
    }
    const line = row as LineRow
    const { setUp } = line
    const sensor = sensorKind(row.sensor)
    let name = names.get(setUp)
    if (name === undefined) {
      name = {
        phone: lineKey(setUp, 'phone'),
        harness: lineKey(setUp, 'harness'),
        surface: surfaceKey(setUp),
      }
      names.set(setUp, name)
    }
    const key = name[sensor]
    const known = lines.get(key)
    if (known) known.rows.push(line)
    else lines.set(key, { key, sensor, rows: [line] })
    const sinceUs = surfaceSinceUs.get(name.surface) ?? Infinity
    if (line.startedAtUs < sinceUs) surfaceSinceUs.set(name.surface, line.startedAtUs)
  }
  return { lines: [...lines.values()], notCompared, surfaceSinceUs }
}

function reasonOf({ sensor, state, startedAtUs, setUp }: TrendRow, demo: boolean): NotCompared | null {
  if (!demo && (sensor === 'replay' || sensor === 'simulated harness')) return 'played or simulated'
  if (state !== 'finished') return 'not analysed'
  if (startedAtUs === null) return 'no date'
  return setUp === null ? 'no set-up noted' : null
}
