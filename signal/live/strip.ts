import type { LiveStrip } from './live-types.ts'

/** Lowest rate at which the waveform is drawn, Hz. */
const STRIP_HZ = 20

/** Gathers every n-th value of the waveform into evenly spaced strips. */
export class StripWriter {
  /** Samples at multiples of this index are drawn. */
  readonly every: number
  private readonly rateHz: number
  private readonly emit: (strip: LiveStrip) => void
  private firstIndex = 0
  private ml: number[] = []
  private cc: number[] = []

  constructor(rateHz: number, emit: (strip: LiveStrip) => void) {
    this.rateHz = rateHz
    this.emit = emit
    this.every = Math.max(1, Math.floor(rateHz / STRIP_HZ))
  }

  /** Adds the sample `index`; after a loss a new strip begins. */
  add(index: number, ml: number, cc: number): void {
    if (index !== this.firstIndex + this.ml.length * this.every) this.send()
    if (this.ml.length === 0) this.firstIndex = index
    this.ml.push(ml)
    this.cc.push(cc)
  }

  /** Emits what was gathered. */
  send(): void {
    if (this.ml.length === 0) return
    const { ml, cc } = this
    this.ml = []
    this.cc = []
    this.emit({ fromS: this.firstIndex / this.rateHz, stepS: this.every / this.rateHz, ml, cc })
  }
}
