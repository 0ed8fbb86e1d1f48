import type uPlot from 'uplot'
import { clock } from './format'
import type { TimeRange } from './time-range'

/** A line, or one edge of a filled band. Colours are names of CSS custom properties. */
export interface ChartSeries {
  values: (number | null)[]
  color: string
  dash?: number[]
}

export interface ChartShade extends TimeRange {
  kind: 'hold' | 'left out' | 'gap' | 'unreadable'
  label: string
}

export interface ChartInstant {
  atS: number
  glyph: string
}

export interface TimeChartSpec {
  timesS: ArrayLike<number>
  series: ChartSeries[]
  /** Pairs of series (upper, lower) filled between. */
  bands: [number, number][]
  y: { min: number; max: number; ticks: { at: number; label: string }[]; log?: boolean }
  heightPx: number
  durationS: number
  onRange(range: TimeRange): void
  /** A moment was clicked, seconds from start. */
  onInstant(atS: number): void
}

/** What is drawn over the lines and may change while they stay. */
export interface ChartNotes {
  shades: readonly ChartShade[]
  instants: readonly ChartInstant[]
  /** The shade that is chosen; −1 for none. */
  chosen: number
}

export interface TimeChart {
  setRange(range: TimeRange): void
  annotate(notes: ChartNotes): void
  destroy(): void
}

const RAIL_PX = 22

/**
 * Draws a time chart into `host`. The only importer of uPlot, which is loaded when the first chart
 * is needed. Drag to zoom; range and choice are owned by the caller.
 */
export async function createTimeChart(host: HTMLElement, spec: TimeChartSpec): Promise<TimeChart> {
  const [{ default: Plot }] = await Promise.all([import('uplot'), import('uplot/dist/uPlot.min.css')])
  const styles = getComputedStyle(host)
  const color = (name: string) => styles.getPropertyValue(name).trim()
  const font = `13px ${color('--sans')}`
  let notes: ChartNotes = { shades: [], instants: [], chosen: -1 }

  const options: uPlot.Options = {
    width: host.clientWidth,
    height: spec.heightPx,
    padding: [RAIL_PX, 8, 0, 0],
    legend: { show: false },
    cursor: { y: false, drag: { x: true, y: false, setScale: false } },
    scales: {
      x: { time: false },
      y: { range: () => [spec.y.min, spec.y.max], ...(spec.y.log && { distr: 3 }) },
    },
    axes: [
      {
        stroke: color('--ink-soft'),
        font,
        grid: { stroke: color('--rule'), width: 1 },
        ticks: { stroke: color('--rule') },
        values: (_plot, splits) => splits.map((s) => (Number.isInteger(s) ? clock(s) : `${s} s`)),
      },
      {
        stroke: color('--ink-soft'),
        font,
        size: 64,
        grid: { stroke: color('--rule'), width: 1 },
        ticks: { show: false },
        splits: () => spec.y.ticks.map((tick) => tick.at),
        filter: (_plot, splits) => splits,
        values: () => spec.y.ticks.map((tick) => tick.label),
      },
    ],
    series: [
      {},
      ...spec.series.map((series) => ({
        stroke: color(series.color),
        width: 1.25,
        points: { show: false },
        ...(series.dash && { dash: series.dash }),
      })),
    ],
    bands: spec.bands.map(([upper, lower]) => ({
      series: [upper + 1, lower + 1] as [number, number],
      fill: color(spec.series[upper].color) + '88',
    })),
    hooks: {
      drawClear: [(plot) => drawShades(plot, notes, color)],
      draw: [(plot) => drawRail(plot, notes, font, color)],
      setSelect: [
        (plot) => {
          if (plot.select.width < 8) return
          const fromS = plot.posToVal(plot.select.left, 'x')
          const toS = plot.posToVal(plot.select.left + plot.select.width, 'x')
          plot.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false)
          spec.onRange({ fromS: Math.max(0, fromS), toS: Math.min(spec.durationS, toS) })
        },
      ],
    },
  }
  const data = [spec.timesS, ...spec.series.map((series) => series.values)] as unknown as uPlot.AlignedData
  const plot = new Plot(options, data, host)
  plot.over.addEventListener('click', (event) => {
    const atS = plot.posToVal(event.offsetX, 'x')
    spec.onInstant(Math.min(spec.durationS, Math.max(0, atS)))
  })
  const sizes = new ResizeObserver(() => {
    if (host.clientWidth > 0) plot.setSize({ width: host.clientWidth, height: spec.heightPx })
  })
  sizes.observe(host)

  return {
    setRange: ({ fromS, toS }) => plot.setScale('x', { min: fromS, max: toS }),
    annotate(next) {
      notes = next
      plot.redraw(false)
    },
    destroy() {
      sizes.disconnect()
      plot.destroy()
    },
  }
}

function drawShades(plot: uPlot, { shades, chosen }: ChartNotes, color: (name: string) => string) {
  const { ctx } = plot
  const { left, top, width, height } = plot.bbox
  ctx.save()
  ctx.beginPath()
  ctx.rect(left, 0, width, top + height)
  ctx.clip()
  shades.forEach((shade, index) => {
    const x0 = plot.valToPos(shade.fromS, 'x', true)
    const x1 = Math.max(x0 + 1, plot.valToPos(shade.toS, 'x', true))
    if (shade.kind === 'gap') {
      hatch(ctx, x0, top, x1 - x0, height, color('--rule-strong'))
    } else if (shade.kind === 'unreadable') {
      hatch(ctx, x0, top, x1 - x0, height, color('--ink-soft'))
      hatch(ctx, x0, top, x1 - x0, height, color('--ink-soft'), -1)
    } else if (shade.kind === 'left out') {
      ctx.strokeStyle = color('--rule-strong')
      ctx.lineWidth = devicePixelRatio
      ctx.setLineDash([4 * devicePixelRatio, 4 * devicePixelRatio])
      ctx.strokeRect(x0, top, x1 - x0, height)
    } else {
      ctx.fillStyle = color('--hold-fill')
      ctx.fillRect(x0, top, x1 - x0, height)
      if (index === chosen) {
        ctx.strokeStyle = color('--ink')
        ctx.lineWidth = 2 * devicePixelRatio
        ctx.setLineDash([])
        ctx.strokeRect(x0, top, x1 - x0, height)
      }
    }
  })
  ctx.restore()
}

/** Slanted lines: a gap is no measurement, and looks unlike a hold without colour too. */
function hatch(
  ctx: CanvasRenderingContext2D,
  x: number,
  y: number,
  width: number,
  height: number,
  stroke: string,
  slant: 1 | -1 = 1,
) {
  ctx.save()
  ctx.beginPath()
  ctx.rect(x, y, width, height)
  ctx.clip()
  ctx.strokeStyle = stroke
  ctx.lineWidth = devicePixelRatio
  ctx.setLineDash([])
  ctx.beginPath()
  const step = 7 * devicePixelRatio
  for (let at = x - height; at < x + width; at += step) {
    ctx.moveTo(at, slant === 1 ? y + height : y)
    ctx.lineTo(at + height, slant === 1 ? y : y + height)
  }
  ctx.stroke()
  ctx.restore()
}

/** Names of holds and glyphs of marks in the rail above the plot, with a thin line down for marks. */
function drawRail(plot: uPlot, notes: ChartNotes, font: string, color: (name: string) => string) {
  const { ctx } = plot
  const { left, top, width, height } = plot.bbox
  const scale = devicePixelRatio
  ctx.save()
  ctx.font = font.replace('13px', `${13 * scale}px`)
  ctx.textBaseline = 'bottom'
  ctx.textAlign = 'center'
  ctx.beginPath()
  ctx.rect(left, 0, width, top + height)
  ctx.clip()
  ctx.fillStyle = color('--ink')
  let freeFrom = -Infinity
  for (const shade of notes.shades) {
    if (!shade.label) continue
    // Over the part in sight, and whole: the first hold often begins with the recording.
    const x0 = Math.max(left, plot.valToPos(shade.fromS, 'x', true))
    const x1 = Math.min(left + width, plot.valToPos(shade.toS, 'x', true))
    const half = ctx.measureText(shade.label).width / 2
    const x = Math.max(left + half, Math.min(left + width - half, (x0 + x1) / 2))
    if (x1 <= x0 || x - half < freeFrom) continue
    freeFrom = x + half + 4 * scale
    ctx.fillText(shade.label, x, top - 2 * scale)
  }
  ctx.strokeStyle = color('--ink-soft')
  ctx.lineWidth = scale
  for (const instant of notes.instants) {
    const x = plot.valToPos(instant.atS, 'x', true)
    ctx.setLineDash([2 * scale, 3 * scale])
    ctx.beginPath()
    ctx.moveTo(x, top)
    ctx.lineTo(x, top + height)
    ctx.stroke()
    ctx.fillText(instant.glyph, x, top + 14 * scale)
  }
  ctx.restore()
}
