import type { SampleRing } from './ring'

export interface SweepStyle {
  /** One stroke colour per channel, top lane first. */
  colors: readonly string[]
  lineWidth: number
  /** The value that reaches the edge of its lane. */
  reach: number
  /** Length of time across the whole width, s. */
  spanS: number
}

/** Empty stretch ahead of the pen, as a share of the width. */
const GAP_SHARE = 0.02

/**
 * Draws the newest samples of a ring the way a chart recorder with a returning pen does: each
 * sample stays where it was drawn until the pen comes round again, so a frame costs only what is
 * new. Lanes lie one above the other.
 */
export class Sweep {
  readonly #context: CanvasRenderingContext2D
  #style: SweepStyle
  #drawnTo: number | null = null

  constructor(context: CanvasRenderingContext2D, style: SweepStyle) {
    this.#context = context
    this.#style = style
  }

  /** A new scale or size: everything still in the ring is drawn again. */
  restyle(style: SweepStyle) {
    this.#style = style
    this.#drawnTo = null
  }

  /** Draws the samples up to grid index `to` (exclusive) that are not drawn yet. */
  drawTo(ring: SampleRing, stepS: number, to: number) {
    const { spanS } = this.#style
    const { width, height } = this.#context.canvas
    const perSpan = Math.round(spanS / stepS)
    const restart = this.#drawnTo === null || to - this.#drawnTo > perSpan || this.#drawnTo > to
    if (restart) this.#context.clearRect(0, 0, width, height)
    const from = restart ? Math.max(ring.start, to - perSpan + 1) : (this.#drawnTo as number)
    if (to <= from) return
    const x = (index: number) => ((index % perSpan) / perSpan) * width
    if (!restart) this.#clear(x(from), x(to) + GAP_SHARE * width, width, height)
    for (let c = 0; c < ring.channels.length; c++) this.#stroke(ring, c, from, to, x)
    this.#drawnTo = to
  }

  /** Clears from x0 to x1, which may lie past the right edge or left of x0 after a wrap. */
  #clear(x0: number, x1: number, width: number, height: number) {
    const to = x1 < x0 ? x1 + width : x1
    this.#context.clearRect(x0, 0, Math.min(to, width) - x0, height)
    if (to > width) this.#context.clearRect(0, 0, to - width, height)
  }

  #stroke(ring: SampleRing, c: number, from: number, to: number, x: (index: number) => number) {
    const { height } = this.#context.canvas
    const laneHeight = height / ring.channels.length
    const middle = (c + 0.5) * laneHeight
    const scale = laneHeight / 2 / this.#style.reach
    const limit = laneHeight / 2 - 1
    this.#context.strokeStyle = this.#style.colors[c]
    this.#context.lineWidth = this.#style.lineWidth
    this.#context.lineJoin = 'round'
    this.#context.beginPath()
    let penDown = false
    let beforeX = Infinity
    // One sample earlier, so that pieces drawn in different frames join.
    for (let i = Math.max(ring.start, from - 1); i < to; i++) {
      const value = ring.at(c, i)
      const atX = x(i)
      if (!Number.isFinite(value) || atX < beforeX) penDown = false
      beforeX = atX
      if (!Number.isFinite(value)) continue
      const y = middle - Math.max(-limit, Math.min(limit, value * scale))
      if (penDown) this.#context.lineTo(atX, y)
      else this.#context.moveTo(atX, y)
      penDown = true
    }
    this.#context.stroke()
  }
}
