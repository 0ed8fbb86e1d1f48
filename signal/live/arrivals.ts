/** Counts the samples that arrived in each of the newest ticks. */
export class Arrivals {
  private readonly counts: Float64Array
  private newest = -1

  /** @param ticks how many ticks back are remembered */
  constructor(ticks: number) {
    this.counts = new Float64Array(ticks + 1)
  }

  /** Adds a sample of tick `tick`; ticks come in ascending order. */
  add(tick: number): void {
    this.advance(tick)
    this.counts[tick % this.counts.length]++
  }

  /** Samples in the ticks [end − ticks, end), the last of which no further sample can fall in. */
  before(end: number, ticks: number): number {
    this.advance(end)
    let sum = 0
    for (let k = Math.max(0, end - ticks); k < end; k++) sum += this.counts[k % this.counts.length]
    return sum
  }

  private advance(tick: number): void {
    const from = Math.max(this.newest + 1, tick - this.counts.length + 1)
    for (let k = from; k <= tick; k++) this.counts[k % this.counts.length] = 0
    if (tick > this.newest) this.newest = tick
  }
}
