import { DEFAULT_BANDS, MIN_RATE_PER_BAND_EDGE } from '../constants.ts'
import { bandPower } from '../spectrum/band-power.ts'
import { sumPsd, welch } from '../spectrum/welch.ts'

/** Length of the live tremor window, s: one Welch segment. */
const WINDOW_S = 2
/** Below this share of its samples the window gives no tremor figure. */
const MIN_COVERAGE = 0.95

/** The newest 2 s of raw samples, for the tremor band; one missing sample in twenty is tolerated. */
export class SampleWindow {
  private readonly rateHz: number
  private readonly size: number
  private readonly axes: readonly [Float64Array, Float64Array, Float64Array]
  private readonly ordered: Float64Array
  private count = 0
  private lastIndex = -1
  private readonly indices: Float64Array

  constructor(rateHz: number) {
    this.rateHz = rateHz
    this.size = Math.round(WINDOW_S * rateHz)
    this.axes = [new Float64Array(this.size), new Float64Array(this.size), new Float64Array(this.size)]
    this.indices = new Float64Array(this.size)
    this.ordered = new Float64Array(this.size)
  }

  push(index: number, x: number, y: number, z: number): void {
    const at = this.count % this.size
    this.axes[0][at] = x
    this.axes[1][at] = y
    this.axes[2][at] = z
    this.indices[at] = index
    this.count++
    this.lastIndex = index
  }

  /**
   * RMS in the tremor band (4–12 Hz), three axes summed, m/s², over the newest 2 s up to `index`;
   * null before 2 s have come, below 95 % coverage, or when the rate cannot carry the band. The few
   * missing samples are closed up: their effect on the band is below that of the Welch estimate.
   */
  tremorMs2(index: number): number | null {
    const band = DEFAULT_BANDS[0]
    if (this.rateHz < MIN_RATE_PER_BAND_EDGE * band.toHz || this.count < this.size) return null
    const oldest = this.indices[this.count % this.size]
    const span = Math.max(index, this.lastIndex) - oldest + 1
    if (this.size / span < MIN_COVERAGE) return null
    const psds = this.axes.map((axis) => {
      const start = this.count % this.size
      this.ordered.set(axis.subarray(start))
      this.ordered.set(axis.subarray(0, start), this.size - start)
      return welch(this.ordered, this.rateHz, { segmentSamples: this.size })
    })
    return Math.sqrt(bandPower(sumPsd(psds), band.fromHz, band.toHz))
  }
}
