/**
 * The newest `capacity` samples of a few channels on an even time grid, for drawing. Older samples
 * are overwritten; the arrays never grow, so a long session costs no more than a short one.
 * Missing samples are NaN.
 */
export class SampleRing {
  readonly capacity: number
  readonly channels: readonly Float32Array[]
  /** Grid index one past the newest sample; 0 when empty. */
  #end = 0
  #start = 0

  constructor(capacity: number, channelCount: number) {
    if (!(capacity >= 1)) throw new RangeError(`SampleRing requires capacity >= 1, got ${capacity}`)
    this.capacity = capacity
    this.channels = Array.from({ length: channelCount }, () => new Float32Array(capacity).fill(NaN))
  }

  get start() {
    return this.#start
  }

  get end() {
    return this.#end
  }

  /**
   * Writes a block at grid index `firstIndex`. What the ring already holds is overwritten (a block
   * sent twice changes nothing), a jump ahead leaves NaN between, what is too old is ignored.
   */
  write(firstIndex: number, values: readonly ArrayLike<number>[]) {
    const count = values[0].length
    const end = Math.max(this.#end, firstIndex + count)
    if (this.#end === 0) this.#start = firstIndex
    const gapFrom = Math.max(this.#end, end - this.capacity)
    for (let i = gapFrom; i < firstIndex && this.#end > 0; i++) {
      for (const channel of this.channels) channel[i % this.capacity] = NaN
    }
    const oldest = end - this.capacity
    for (let i = Math.max(0, oldest - firstIndex); i < count; i++) {
      const slot = (firstIndex + i) % this.capacity
      for (let c = 0; c < this.channels.length; c++) this.channels[c][slot] = values[c][i]
    }
    this.#end = end
    this.#start = Math.max(this.#start, oldest)
  }

  /** Value of channel `c` at a grid index; NaN when missing, too old or not yet there. */
  at(c: number, index: number): number {
    if (index < this.#start || index >= this.#end) return NaN
    return this.channels[c][index % this.capacity]
  }

  clear() {
    this.#end = 0
    this.#start = 0
    for (const channel of this.channels) channel.fill(NaN)
  }
}
