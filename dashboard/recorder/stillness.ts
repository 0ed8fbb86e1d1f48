import { SWAY_CUTOFF_HZ, SWAY_FILTER_ORDER } from '#signal/constants'
import { butterworthLowPass } from '#signal/filter/butterworth'
import { CausalFilter } from '#signal/filter/causal'
import { BRIDGE_S, TICK_S } from '#signal/hold/motion-ticks'
import { ALWAYS_QUIET_MS2, SWAY_NOW_TICKS } from '#signal/hold/reference'

/** Window of the sway measure, s: as `LiveWindow.swayMs2`. */
const WINDOW_S = SWAY_NOW_TICKS * TICK_S
/** Below this share of its samples a window says nothing. */
const MIN_COVERAGE = 0.9

export interface Stillness {
  /** Horizontal RMS of the 3.5 Hz-low-passed acceleration over the newest 2 s, m/s²; null when unknown. */
  readonly swayMs2: number | null
  /** What still counts as quiet, m/s²: the motion that the search for the floor reference always takes. */
  readonly limitMs2: number
  /** How long the sway has stayed within the limit, s, the first window's own 2 s included. */
  readonly stillForS: number
}

export const STILLNESS_LIMIT_MS2 = ALWAYS_QUIET_MS2
export const UNKNOWN_STILLNESS: Stillness = { swayMs2: null, limitMs2: STILLNESS_LIMIT_MS2, stillForS: 0 }

/**
 * How still a sensor is just now, by the measure of the live analyser (`LiveWindow.swayMs2` before a
 * reference is known), over a ring of 2 s. `up` is the mean of those 2 s.
 */
export class StillnessMeter {
  readonly #rateHz: number
  readonly #size: number
  readonly #filters: readonly [CausalFilter, CausalFilter, CausalFilter]
  /** Per sample of the ring: index, 3 raw, 3 low-passed. */
  readonly #ring: Float64Array
  #count = 0
  #lastIndex = -1
  readonly #last = new Float64Array(3)
  #quietFromS: number | null = null

  constructor(rateHz: number) {
    this.#rateHz = rateHz
    this.#size = Math.max(2, Math.round(WINDOW_S * rateHz))
    this.#ring = new Float64Array(FIELDS * this.#size)
    const sos = butterworthLowPass(SWAY_FILTER_ORDER, SWAY_CUTOFF_HZ, rateHz)
    this.#filters = [new CausalFilter(sos), new CausalFilter(sos), new CausalFilter(sos)]
  }

  /** Adds sample `index` (ascending) in sensor axes, m/s². */
  push(index: number, x: number, y: number, z: number): void {
    const [fx, fy, fz] = this.#filters
    const missing = this.#lastIndex < 0 ? Infinity : index - this.#lastIndex - 1
    if (missing > BRIDGE_S * this.#rateHz) {
      fx.settle(x)
      fy.settle(y)
      fz.settle(z)
    }
    const [lastX, lastY, lastZ] = this.#last
    for (let i = 1; i <= missing && missing <= BRIDGE_S * this.#rateHz; i++) {
      const share = i / (missing + 1)
      fx.push(lastX + share * (x - lastX))
      fy.push(lastY + share * (y - lastY))
      fz.push(lastZ + share * (z - lastZ))
    }
    const at = (this.#count++ % this.#size) * FIELDS
    const low = [fx.push(x), fy.push(y), fz.push(z)]
    this.#ring.set([index, x, y, z, ...low], at)
    this.#last.set([x, y, z])
    this.#lastIndex = index
  }

  /** The reading after the newest sample; call it a few times a second. */
  read(): Stillness {
    const swayMs2 = this.#swayMs2()
    const nowS = (this.#lastIndex + 1) / this.#rateHz
    if (swayMs2 === null || swayMs2 > STILLNESS_LIMIT_MS2) this.#quietFromS = null
    else this.#quietFromS ??= nowS - WINDOW_S
    const stillForS = this.#quietFromS === null ? 0 : nowS - this.#quietFromS
    return { swayMs2, limitMs2: STILLNESS_LIMIT_MS2, stillForS }
  }

  /** Mean |a| of the newest second, m/s²; null before the first sample. */
  meanAccelerationMs2(): number | null {
    const count = Math.min(this.#count, this.#size, Math.round(this.#rateHz))
    if (count === 0) return null
    let sum = 0
    for (let i = 1; i <= count; i++) {
      const at = ((this.#count - i) % this.#size) * FIELDS
      sum += Math.hypot(this.#ring[at + 1], this.#ring[at + 2], this.#ring[at + 3])
    }
    return sum / count
  }

  #swayMs2(): number | null {
    if (this.#count === 0) return null
    const newerThan = this.#lastIndex - this.#size
    const sum = new Float64Array(FIELDS)
    const square = new Float64Array(6)
    let n = 0
    for (let i = 0; i < Math.min(this.#count, this.#size); i++) {
      const sample = this.#ring.subarray(i * FIELDS, (i + 1) * FIELDS)
      if (sample[0] <= newerThan) continue
      n++
      for (let f = 1; f < FIELDS; f++) sum[f] += sample[f]
    }
    if (n < MIN_COVERAGE * this.#size) return null
    const mean = sum.map((s) => s / n)
    const length = Math.hypot(mean[1], mean[2], mean[3])
    if (!(length > 0)) return null
    const up = [mean[1] / length, mean[2] / length, mean[3] / length]
    for (let i = 0; i < Math.min(this.#count, this.#size); i++) {
      const sample = this.#ring.subarray(i * FIELDS, (i + 1) * FIELDS)
      if (sample[0] <= newerThan) continue
      const d = [sample[4] - mean[4], sample[5] - mean[5], sample[6] - mean[6]]
      const along = d[0] * up[0] + d[1] * up[1] + d[2] * up[2]
      square[0] += d[0] * d[0] + d[1] * d[1] + d[2] * d[2] - along * along
    }
    return Math.sqrt(Math.max(0, square[0] / n))
  }
}

const FIELDS = 7
