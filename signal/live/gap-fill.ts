import { longestStepS } from '../trace/gaps.ts'
import { pchip } from '../trace/pchip.ts'
import { MIN_STRETCH_S, MIN_STRETCH_SAMPLES } from '../trace/resample.ts'

/** One sample in sensor axes, m/s². */
interface Sample {
  readonly index: number
  readonly x: number
  readonly y: number
  readonly z: number
}

export interface GapFillSink {
  /** The next sample in order; `arrived` is false for one filled in. */
  take(index: number, x: number, y: number, z: number, arrived: boolean): void
  /** Nothing before `index` is to come any more. */
  close(index: number): void
}

/**
 * Treats the losses of a stream as `uniformStretches` treats those of a recording, so that both are
 * judged alike: a step that counts as no gap is filled by the same cubic (PCHIP), and what arrives
 * between two gaps counts only from 3 samples and 0.1 s on. To know that much, the sample after a
 * small loss is held back until the next one, and those after a gap for 0.1 s.
 */
export class GapFill {
  private readonly rateHz: number
  private readonly sink: GapFillSink
  /** Steps between samples up to this many indices are filled. */
  private readonly longestStep: number
  private newestIndex = Number.NEGATIVE_INFINITY
  /** Whether the run of samples since the latest gap is long enough to count. */
  private isSettled = false
  private readonly waiting: Sample[] = []
  /** The two samples of the run passed on last. */
  private beforeLast: Sample | null = null
  private last: Sample | null = null

  constructor(rateHz: number, sink: GapFillSink) {
    this.rateHz = rateHz
    this.sink = sink
    this.longestStep = Math.floor(longestStepS(rateHz) * rateHz * (1 + 1e-9))
  }

  /** Takes the sample `index`, above all before it. */
  push(index: number, x: number, y: number, z: number): void {
    if (index - this.newestIndex > this.longestStep) {
      this.endRun()
      this.sink.close(index)
    }
    this.newestIndex = index
    this.waiting.push({ index, x, y, z })
    this.passOn(false)
  }

  /** Says that samples before `index` not taken yet will never come. */
  lost(index: number): void {
    // A loss short enough to be filled waits for the sample after it.
    if (index - this.newestIndex <= this.longestStep) return
    this.endRun()
    this.sink.close(index)
  }

  /** Passes on what waits for a next sample, since none will come without a gap. */
  endRun(): void {
    this.passOn(true)
    this.waiting.length = 0
    this.isSettled = false
    this.beforeLast = this.last = null
  }

  private passOn(isEnd: boolean): void {
    const { waiting } = this
    if (!this.isSettled) {
      const spanS = waiting.length > 0 ? (this.newestIndex - waiting[0].index) / this.rateHz : 0
      if (waiting.length < MIN_STRETCH_SAMPLES || spanS < MIN_STRETCH_S * (1 - 1e-9)) return
      this.isSettled = true
    }
    while (waiting.length > 0) {
      const [sample, next] = waiting
      if (this.last && sample.index - this.last.index > 1) {
        if (!next && !isEnd) return
        this.fill(this.last, sample, next)
      }
      this.sink.take(sample.index, sample.x, sample.y, sample.z, true)
      this.beforeLast = this.last
      this.last = sample
      waiting.shift()
    }
  }

  /** PCHIP is local: two samples on each side give what the whole run would give. */
  private fill(from: Sample, to: Sample, next: Sample | undefined): void {
    const known = [this.beforeLast, from, to, next].filter(
      (sample) => sample !== null && sample !== undefined,
    )
    const at = Float64Array.from(known, ({ index }) => index)
    const missing = Float64Array.from({ length: to.index - from.index - 1 }, (_, i) => from.index + 1 + i)
    const [x, y, z] = (['x', 'y', 'z'] as const).map((axis) =>
      pchip(
        at,
        Float64Array.from(known, (sample) => sample[axis]),
        missing,
      ),
    )
    missing.forEach((index, i) => this.sink.take(index, x[i], y[i], z[i], false))
  }
}
