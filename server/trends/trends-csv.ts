import type { TrendLine, Trends } from '#protocol/trends'
import type { TrendRow } from '#server/store/trend-source'
import { csvText } from '../csv-text.ts'
import type { CsvValue } from '../csv-text.ts'

const HEADER = [
  'session',
  'started_at',
  'line',
  'exercise',
  'surface',
  'height_cm',
  'firmness',
  'fore_to_hind_cm',
  'left_to_right_cm',
  'unstable',
  'sensor',
  'measure',
  'unit',
  'value',
  'part',
  'left_out_because',
  'ewma',
  'ewma_low',
  'ewma_high',
  'ewma_outside',
  'baseline_mean',
  'baseline_noise_low',
  'baseline_noise_high',
  'familiarisation_basis',
]

/**
 * The sessions behind the trends, one row each, line by line and oldest first; those in no line at the end. Numbers
 * in full: m/s², m/s³, m²/s⁵, s or shares, as `unit` says.
 */
export function trendsCsv(trends: Trends, rows: readonly TrendRow[]): string {
  const byId = new Map(rows.map((row) => [row.id, row]))
  return csvText(tableRows(trends, byId, rows))
}

function* tableRows(trends: Trends, byId: Map<string, TrendRow>, rows: readonly TrendRow[]) {
  yield HEADER
  const inLines = new Set<string>()
  for (const line of trends.lines) {
    for (const id of line.sessionIds) inLines.add(id)
    yield* lineRows(line, trends, byId)
  }
  const reasons = new Map(
    trends.notCompared.flatMap(({ reason, sessionIds }) => (sessionIds ?? []).map((id) => [id, reason])),
  )
  for (const row of rows) {
    const reason = reasons.get(row.id)
    if (reason === undefined || inLines.has(row.id)) continue
    yield [...session(row, null, trends), null, 'in no line', reason, ...blank(8)]
  }
}

function* lineRows(line: TrendLine, trends: Trends, byId: Map<string, TrendRow>): Generator<CsvValue[]> {
  const { trend, ewma } = line
  const { baseline } = trend
  const limit = (change: number) =>
    baseline && (trend.scale === 'log' ? baseline.mean * (1 + change / 100) : baseline.mean + change)
  const noise = baseline ? [baseline.mean, limit(baseline.mdc95.fall), limit(baseline.mdc95.rise)] : blank(3)
  const outside = new Set(ewma?.outside)
  let counted = -1
  for (const [k, { value, part, leftOut }] of trend.sessions.entries()) {
    const id = line.sessionIds[k]
    const counts = part !== 'left out' && part !== 'familiarisation'
    if (counts) counted++
    const chart =
      counts && ewma
        ? [ewma.ewma[counted], ewma.low[counted], ewma.high[counted], outside.has(counted)]
        : blank(4)
    const because = line.belowSensor?.includes(id)
      ? 'below what the sensor can measure'
      : leftOut && [leftOut, line.excludedBecause?.[id]].filter(Boolean).join(': ')
    yield [
      ...session(byId.get(id)!, line, trends),
      value,
      part,
      because,
      ...chart,
      ...noise,
      line.familiarisationBasis,
    ]
  }
}

function session(row: TrendRow, line: TrendLine | null, { measure, unit }: Trends): CsvValue[] {
  const { setUp } = row
  return [
    row.id,
    row.startedAtUs === null ? null : new Date(row.startedAtUs / 1000).toISOString(),
    line?.key ?? null,
    setUp?.exercise ?? null,
    setUp?.surface ?? null,
    setUp?.heightCm ?? null,
    setUp?.firmness ?? null,
    setUp?.foreToHindCm ?? null,
    setUp?.leftToRightCm ?? null,
    setUp?.unstable ?? null,
    row.sensor,
    measure,
    unit,
  ]
}

function blank(count: number): null[] {
  return Array.from({ length: count }, () => null)
}
