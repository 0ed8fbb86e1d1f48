import { clockLine, edgeOver, extendHull, lineThrough } from './lower-hull.ts'
import type { Arrival, ClockFit } from './lower-hull.ts'

export interface RunningClockOptions {
  readonly nominalRateHz: number
  /** How far back arrivals count, s; default 30. Infinity for the whole recording. */
  readonly windowS?: number
}

/** Until arrivals span this much, s, a slope between two of them says less than the nominal rate. */
const MIN_SPAN_S = 5
/** A corrected line is approached at this many seconds per second: the shown time neither jumps nor stands. */
const SLEW = 0.1
/** Beyond this much lag, s, the shown time jumps forward: the signal was away. */
const JUMP_S = 1

/**
 * The lower-hull clock of a running stream (see `fitClock`), over the newest arrivals. `timeOf` gives each
 * sample a time that never steps back: when better arrivals move the line, the times approach it at 10 % at
 * most. Stored keys must not come from here: they are anchor + n · period, fixed when the stream starts.
 */
export class RunningClock {
  private readonly nominalRateHz: number
  private readonly windowS: number
  /** Arrivals inside the window; only the hull when the window is endless. */
  private points: Arrival[] = []
  private count = 0
  private indexSum = 0
  private firstIndex = 0
  private line: ClockFit | null = null
  private shown: { index: number; tS: number } | null = null

  /** @throws {RangeError} for a rate or window that is not positive */
  constructor({ nominalRateHz, windowS = 30 }: RunningClockOptions) {
    if (!(nominalRateHz > 0 && Number.isFinite(nominalRateHz))) {
      throw new RangeError(`RunningClock requires nominalRateHz > 0, got ${nominalRateHz}`)
    }
    if (!(windowS > 0)) throw new RangeError(`RunningClock requires windowS > 0, got ${windowS}`)
    this.nominalRateHz = nominalRateHz
    this.windowS = windowS
  }

  /**
   * Takes an arrival.
   *
   * @param index of the last sample of the packet, losses counted; above all before
   * @param arrivedS seconds of a clock that does not stop
   * @throws {RangeError} when the index does not ascend
   */
  add(index: number, arrivedS: number): void {
    const { points } = this
    const last = points[points.length - 1]
    if (last !== undefined && !(index > last.index)) {
      throw new RangeError(`RunningClock requires ascending indices, got ${index} after ${last.index}`)
    }
    if (this.count === 0) this.firstIndex = index
    const added = { index, arrivedS }
    this.line = null
    if (this.windowS === Infinity) {
      this.count++
      this.indexSum += index - this.firstIndex
      extendHull(points, added)
      return
    }
    points.push(added)
    const from = points.findIndex((point) => point.arrivedS >= arrivedS - this.windowS)
    if (from > 0) points.splice(0, from)
    this.count = points.length
    this.firstIndex = points[0].index
    this.indexSum = points.reduce((sum, point) => sum + point.index - this.firstIndex, 0)
  }

  /** The line under the arrivals so far, or null before the first. */
  fit(): ClockFit | null {
    if (this.points.length === 0) return null
    return (this.line ??= this.fitted())
  }

  private fitted(): ClockFit {
    const { points, nominalRateHz } = this
    const spanS = points[points.length - 1].arrivedS - points[0].arrivedS
    if (spanS < MIN_SPAN_S || points.length < 2) return this.nominalLine()
    let hull = points
    if (this.windowS !== Infinity) {
      hull = []
      for (const point of points) extendHull(hull, point)
    }
    const [from, to] = edgeOver(hull, this.firstIndex + this.indexSum / this.count)
    return to.arrivedS > from.arrivedS ? lineThrough(from, to, nominalRateHz) : this.nominalLine()
  }

  /** The line of nominal slope that touches the arrivals from below. */
  private nominalLine(): ClockFit {
    const periodS = 1 / this.nominalRateHz
    const interceptS = this.points.reduce(
      (least, { index, arrivedS }) => Math.min(least, arrivedS - index * periodS),
      Infinity,
    )
    return clockLine(interceptS, periodS, this.nominalRateHz)
  }

  /**
   * The time of a sample, s on the clock of the arrivals (less the least delay of the link). Ascends with the
   * index: a sample at or before the newest one asked for lies on the line through that one.
   *
   * @throws {RangeError} before the first arrival
   */
  timeOf(index: number): number {
    const fit = this.fit()
    if (fit === null) throw new RangeError('RunningClock.timeOf requires an arrival first')
    const wantedS = fit.interceptS + index * fit.periodS
    if (this.shown === null) {
      this.shown = { index, tS: wantedS }
      return wantedS
    }
    const aheadS = (index - this.shown.index) * fit.periodS
    if (aheadS <= 0) return this.shown.tS + aheadS
    const predictedS = this.shown.tS + aheadS
    const offS = wantedS - predictedS
    const limitS = SLEW * aheadS
    const tS = offS > JUMP_S ? wantedS : predictedS + Math.min(limitS, Math.max(-limitS, offS))
    this.shown = { index, tS }
    return tS
  }
}
