import type { Measured, ServerMeasured } from '../live.ts'

interface Pair {
  readonly streams: number
  readonly floor: Measured | null
  readonly server: ServerMeasured
}

const ms = (value: number) => (value < 100 ? value.toFixed(1) : value.toFixed(0))
const percent = (share: number | null) => (share === null ? '–' : (100 * share).toFixed(0))

/** The medians of all rounds with as many streams, one row each, and what went wrong below. */
export function formatTable(rounds: readonly Pair[], limitMs: number): string {
  const head = [
    'streams',
    'floor p50/p99/max ms',
    'server p50/p99/max ms',
    'p99 ÷ floor',
    'late p99 ms',
    'windows of 10/s',
    'server CPU %',
    'per stream %',
    'floor CPU %',
    'others CPU %',
    'RSS MB',
    'samples sent',
    'acknowledged',
    'lost+twice+changed',
    'drained ms',
    `p99 < ${limitMs} ms`,
  ]
  const rows = [...new Set(rounds.map(({ streams }) => streams))].map((streams) =>
    row(
      rounds.filter((round) => round.streams === streams),
      limitMs,
    ),
  )
  const problems = rounds.flatMap(({ server }) => problemsOf(server))
  return [tabulate([head, ...rows]), ...problems].join('\n')
}

function row(rounds: readonly Pair[], limitMs: number): string[] {
  const { streams } = rounds[0]
  const servers = rounds.map(({ server }) => server)
  const floors = rounds.flatMap(({ floor }) => floor ?? [])
  const of = <T>(list: readonly T[], pick: (one: T) => number | null) => median(list.map(pick))
  const latency = (list: readonly Measured[]) =>
    (['p50', 'p99', 'max'] as const)
      .map((key) => ms(of(list, ({ latencyMs }) => latencyMs[key])!))
      .join(' / ')
  const ratio = rounds.map(({ floor, server }) => (floor ? server.latencyMs.p99 / floor.latencyMs.p99 : null))
  const cpu = of(servers, ({ cpuShare }) => cpuShare)
  const p99 = of(servers, ({ latencyMs }) => latencyMs.p99)!
  const total = (pick: (one: ServerMeasured) => number) =>
    String(servers.reduce((sum, one) => sum + pick(one), 0))
  const wrong = ({ stored }: ServerMeasured) => stored.lost + stored.surplus + stored.changed
  const drained = servers.map(({ drainedMs }) => drainedMs)
  return [
    String(streams),
    floors.length > 0 ? latency(floors) : '–',
    latency(servers),
    floors.length > 0 ? median(ratio)!.toFixed(1) : '–',
    ms(of(servers, ({ lateMs }) => lateMs.p99)!),
    (of(servers, ({ windowsPerS }) => windowsPerS)! / streams).toFixed(2),
    percent(cpu),
    cpu === null ? '–' : ((100 * cpu) / streams).toFixed(2),
    floors.length > 0 ? percent(of(floors, ({ cpuShare }) => cpuShare)) : '–',
    percent(of(servers, ({ othersShare }) => othersShare)),
    of(servers, ({ residentMb }) => residentMb)?.toFixed(0) ?? '–',
    total(({ sentSamples }) => sum(sentSamples)),
    total(({ acknowledgedSamples }) => sum(acknowledgedSamples)),
    total(wrong),
    drained.includes(null) ? 'never' : ms(median(drained)!),
    p99 < limitMs ? 'yes' : 'NO',
  ]
}

function problemsOf(server: ServerMeasured): string[] {
  const { streams, broken, apiDifference, serverLog, snapshots } = server
  return [
    ...broken.slice(0, 5).map((text) => `${streams} streams: ${text}`),
    ...(broken.length > 5 ? [`${streams} streams: ${broken.length - 5} more of these`] : []),
    ...(snapshots > 0 ? [`${streams} streams: ${snapshots} snapshots instead of windows`] : []),
    ...(apiDifference ? [`${streams} streams, through the API: ${apiDifference}`] : []),
    ...(serverLog ? [`${streams} streams, the server's log: ${serverLog.slice(0, 500)}`] : []),
  ]
}

const sum = (values: readonly number[]) => values.reduce((total, value) => total + value, 0)

function median(values: readonly (number | null)[]): number | null {
  const sorted = values.filter((value) => value !== null).sort((a, b) => a - b)
  if (sorted.length === 0) return null
  const middle = sorted.length >> 1
  return sorted.length % 2 === 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2
}

function tabulate(rows: readonly (readonly string[])[]): string {
  const widths = rows[0].map((_, c) => Math.max(...rows.map((cells) => cells[c].length)))
  const line = (cells: readonly string[]) =>
    `| ${cells.map((cell, c) => cell.padStart(widths[c])).join(' | ')} |`
  const rule = `| ${widths.map((width) => '-'.repeat(width - 1) + ':').join(' | ')} |`
  return [line(rows[0]), rule, ...rows.slice(1).map(line)].join('\n')
}
