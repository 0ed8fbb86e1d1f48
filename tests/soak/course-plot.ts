import type { Fault } from './chaos.ts'
import { panel, PANEL_GAP, PANEL_HEIGHT, PLOT_LEFT, PLOT_WIDTH } from './plot-panel.ts'
import type { Line } from './plot-panel.ts'
import type { SoakResult } from './result.ts'

const WIDTH = PLOT_LEFT + PLOT_WIDTH + 20
const TOP = 64
const MB = 2 ** 20

/** Memory, samples, delay and the faults over the time of a run, as an SVG that needs nothing else. */
export function coursePlot(result: SoakResult): string {
  const { usage, progress, faults } = result.course
  const startMs = Date.parse(result.startedAt)
  const minute = (atMs: number) => (atMs - startMs) / 60_000
  const untilMin = Math.max(...usage.map(({ atMs }) => minute(atMs)))
  const overUsage = (of: (one: (typeof usage)[number]) => number | null | undefined) =>
    usage.map((one) => ({ x: minute(one.atMs), y: of(one) ?? null, run: one.life }))
  const overProgress = (of: (one: (typeof progress)[number]) => number | null | undefined) =>
    progress.map((one) => ({ x: minute(one.atMs), y: of(one) ?? null, run: 0 }))
  const panels: { title: string; unit: string; isLog?: boolean; lines: Line[] }[] = [
    {
      title: 'Memory of the server',
      unit: 'MB',
      lines: [
        { name: 'resident', colour: '#1f5fa8', points: overUsage(({ residentMb }) => residentMb) },
        { name: 'heap used', colour: '#c2571a', points: overUsage(({ heap }) => heap && heap.heapUsed / MB) },
      ],
    },
    {
      title: 'Samples',
      unit: 'thousands',
      lines: [
        {
          name: 'taken by the sensors',
          colour: '#8a8a8a',
          points: overProgress(({ taken }) => taken / 1000),
        },
        {
          name: 'acknowledged',
          colour: '#1c7c54',
          points: overProgress(({ acknowledged }) => acknowledged / 1000),
        },
      ],
    },
    {
      title: 'Taken and not yet acknowledged',
      unit: 'samples',
      isLog: true,
      lines: [
        {
          name: 'all streams together',
          colour: '#1c7c54',
          points: overProgress(({ taken, acknowledged }) => Math.max(1, taken - acknowledged)),
        },
      ],
    },
    {
      title: 'Sample to viewer',
      unit: 'ms',
      isLog: true,
      lines: [
        { name: 'p50 of 2 s', colour: '#6a4c93', points: overProgress(({ latencyMs }) => latencyMs?.p50) },
        { name: 'p99 of 2 s', colour: '#d1495b', points: overProgress(({ latencyMs }) => latencyMs?.p99) },
      ],
    },
    {
      title: 'Event loop of the server, p99 of 2 s',
      unit: 'ms',
      isLog: true,
      lines: [
        {
          name: 'delay',
          colour: '#444444',
          points: overUsage(({ heap }) => heap && Math.max(0.1, heap.loopMs.p99)),
        },
      ],
    },
    {
      title: 'Data folder and open files',
      unit: 'MB, count',
      lines: [
        { name: 'data folder, MB', colour: '#1f5fa8', points: overUsage(({ dataMb }) => dataMb) },
        { name: 'open files', colour: '#c2571a', points: overUsage(({ openFiles }) => openFiles) },
      ],
    },
  ]
  const height = TOP + panels.length * (PANEL_HEIGHT + PANEL_GAP) + 30
  const bottom = height - 30 - PANEL_GAP
  const xOf = (min: number) => PLOT_LEFT + (min / untilMin) * PLOT_WIDTH
  const body = panels.map((one, i) => panel(one, TOP + i * (PANEL_HEIGHT + PANEL_GAP), xOf))
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" width="${WIDTH}" height="${height}" viewBox="0 0 ${WIDTH} ${height}" font-family="sans-serif" font-size="11">`,
    `<title>${titleOf(result)}</title>`,
    `<rect width="${WIDTH}" height="${height}" fill="#ffffff"/>`,
    `<text x="${PLOT_LEFT}" y="16" font-size="13" font-weight="bold">${titleOf(result)}</text>`,
    legend(result),
    ...faultMarks(faults, (atMs) => xOf(minute(atMs)), bottom),
    ...body,
    timeAxis(untilMin, xOf, bottom),
    '</svg>\n',
  ].join('\n')
}

const FAULT_COLOURS = { server: '#d1495b', influxd: '#e0a100', network: '#9db4c8' } as const

function titleOf({ options: { streams, series } }: SoakResult): string {
  return `${streams} streams on ${series === 'influx' ? 'InfluxDB' : 'SQLite'}, with everything killed now and then`
}

function legend({ faults, options }: SoakResult): string {
  const entries = [
    ['server', `server killed (${faults.server.hits}×)`],
    ...(options.series === 'influx' ? [['influxd', `influxd down (${faults.influxd.done}×)`]] : []),
    ['network', `network broken (${faults.network.done}×, strip on top)`],
  ] as [keyof typeof FAULT_COLOURS, string][]
  return entries
    .map(([kind, text], i) => {
      const x = PLOT_LEFT + i * 200
      return `<rect x="${x}" y="23" width="10" height="10" fill="${FAULT_COLOURS[kind]}"/><text x="${x + 14}" y="32">${text}</text>`
    })
    .join('')
}

/** Kills lie behind all panels; the network, which is broken most of the time somewhere, has a strip of its own. */
function faultMarks(faults: readonly Fault[], xOf: (atMs: number) => number, bottom: number): string[] {
  return faults.map(({ kind, atMs, untilMs }) => {
    const x = xOf(atMs)
    const width = Math.max(1, xOf(untilMs) - x)
    const [y, height] = kind === 'network' ? [38, 4] : [TOP, bottom - TOP]
    const opacity = kind === 'network' ? 0.6 : 0.3
    return `<rect x="${x.toFixed(1)}" y="${y}" width="${width.toFixed(1)}" height="${height}" fill="${FAULT_COLOURS[kind]}" opacity="${opacity}"/>`
  })
}

function timeAxis(untilMin: number, xOf: (min: number) => number, bottom: number): string {
  const stepMin = untilMin > 12 ? 5 : untilMin > 3 ? 1 : 0.5
  let text = ''
  for (let min = 0; min <= untilMin; min += stepMin) {
    text += `<text x="${xOf(min).toFixed(1)}" y="${bottom + 16}" text-anchor="middle">${min}</text>`
  }
  return `${text}<text x="${PLOT_LEFT + PLOT_WIDTH}" y="${bottom + 32}" text-anchor="end">minutes</text>`
}
