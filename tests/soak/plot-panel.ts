export const PLOT_LEFT = 64
export const PLOT_WIDTH = 840
export const PANEL_HEIGHT = 104
export const PANEL_GAP = 26

/** Points are thinned to one per so many pixels: the smallest and largest of each stay. */
const PIXELS_PER_POINT = 4

export interface Point {
  readonly x: number
  readonly y: number | null
  /** A line is broken where this changes. */
  readonly run: number
}

export interface Line {
  readonly name: string
  readonly colour: string
  readonly points: readonly Point[]
}

export interface Panel {
  readonly title: string
  readonly unit: string
  readonly isLog?: boolean
  readonly lines: readonly Line[]
}

/** One panel with its frame, scale and lines. */
export function panel(
  { title, unit, isLog = false, lines }: Panel,
  top: number,
  xOf: (x: number) => number,
): string {
  const values = lines.flatMap(({ points }) => points.flatMap(({ y }) => (y === null ? [] : [y])))
  const ticks = values.length === 0 ? [0, 1] : isLog ? logTicks(values) : linearTicks(Math.max(...values))
  const [low, high] = [ticks[0], ticks[ticks.length - 1]]
  const share = (y: number) =>
    isLog ? Math.log(Math.max(y, low) / low) / Math.log(high / low) : (y - low) / (high - low)
  const yOf = (y: number) => top + PANEL_HEIGHT * (1 - share(y))
  const right = PLOT_LEFT + PLOT_WIDTH
  const grid = ticks.map(
    (tick) =>
      `<path d="M${PLOT_LEFT} ${yOf(tick).toFixed(1)}H${right}" stroke="#d8d8d8" stroke-width="0.6"/>` +
      `<text x="${PLOT_LEFT - 6}" y="${(yOf(tick) + 4).toFixed(1)}" text-anchor="end">${label(tick)}</text>`,
  )
  const names = lines
    .map(({ name, colour }) => `<tspan fill="${colour}" dx="12" font-weight="bold">${name}</tspan>`)
    .join('')
  return [
    `<text x="${PLOT_LEFT}" y="${top - 6}"><tspan>${title}, ${unit}</tspan>${names}</text>`,
    ...grid,
    ...lines.map(({ colour, points }) => path(points, colour, xOf, yOf)),
  ].join('\n')
}

function path(
  points: readonly Point[],
  colour: string,
  xOf: (x: number) => number,
  yOf: (y: number) => number,
): string {
  let d = ''
  let last: { run: number } | null = null
  for (const { x, y, run } of thinned(points, xOf)) {
    if (y === null) {
      last = null
      continue
    }
    d += `${last?.run === run ? 'L' : 'M'}${xOf(x).toFixed(1)} ${yOf(y).toFixed(1)}`
    last = { run }
  }
  return `<path d="${d}" fill="none" stroke="${colour}" stroke-width="1.2" stroke-linejoin="round"/>`
}

/** Smallest and largest of what falls on the same few pixels, in their order. */
function thinned(points: readonly Point[], xOf: (x: number) => number): Point[] {
  const groups = new Map<string, Point[]>()
  for (const point of points) {
    const key = `${Math.floor(xOf(point.x) / PIXELS_PER_POINT)}/${point.run}/${point.y === null}`
    const group = groups.get(key)
    if (group) group.push(point)
    else groups.set(key, [point])
  }
  return [...groups.values()].flatMap((group) => {
    const byValue = group.toSorted((a, b) => (a.y ?? 0) - (b.y ?? 0))
    return [...new Set([byValue[0], byValue[byValue.length - 1]])].sort((a, b) => a.x - b.x)
  })
}

function linearTicks(largest: number): number[] {
  const rough = largest / 3
  const power = 10 ** Math.floor(Math.log10(rough))
  const step = [1, 2, 5, 10].find((factor) => factor * power >= rough)! * power
  const ticks: number[] = []
  for (let tick = 0; tick < largest + step; tick += step) ticks.push(tick)
  return ticks
}

function logTicks(values: readonly number[]): number[] {
  const from = Math.floor(Math.log10(Math.max(0.1, Math.min(...values))))
  const to = Math.max(from + 1, Math.ceil(Math.log10(Math.max(...values))))
  return Array.from({ length: to - from + 1 }, (_, i) => 10 ** (from + i))
}

function label(tick: number): string {
  return tick >= 1
    ? String(Math.round(tick)).replace(/\B(?=(\d{3})+$)/g, ' ')
    : String(Number(tick.toPrecision(1)))
}
