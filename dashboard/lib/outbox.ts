export interface OutboxFrame {
  readonly firstIndex: number
  readonly count: number
  /** The encoded frame; null when its samples were given up and only the loss is to be told. */
  readonly bytes: Uint8Array<ArrayBuffer> | null
}

/** 64 MiB are about 14 hours of 100 samples a second on three channels. */
const DEFAULT_LIMIT_BYTES = 64 * 1024 * 1024

/**
 * Frames not yet acknowledged by the server, in order. Pure: no socket, no clock. The server's
 * number is the truth: `resumeFrom` forgets what is stored and sends the rest again. When the
 * limit is reached the oldest frames become one `lost` frame, so a loss is always told.
 */
export class Outbox {
  readonly #limitBytes: number
  #frames: OutboxFrame[] = []
  #sent = 0
  #bytes = 0
  #lostSamples = 0
  #nextIndex = 0

  /**
   * @param limitBytes of encoded frames kept
   * @param fromIndex the first sample there is to send, when what was before it is stored already
   */
  constructor({ limitBytes = DEFAULT_LIMIT_BYTES, fromIndex = 0 } = {}) {
    this.#limitBytes = limitBytes
    this.#nextIndex = fromIndex
  }

  /** Index of the first sample not yet pushed. */
  get nextIndex() {
    return this.#nextIndex
  }

  /** Index of the first sample of the oldest frame kept. */
  get firstIndex() {
    return this.#frames.length > 0 ? this.#frames[0].firstIndex : this.#nextIndex
  }

  get unacknowledgedSamples() {
    return this.#frames.reduce((sum, frame) => sum + frame.count, 0)
  }

  get outstandingFrames() {
    return this.#sent
  }

  get lostSamples() {
    return this.#lostSamples
  }

  get isEmpty() {
    return this.#frames.length === 0
  }

  push(firstIndex: number, count: number, bytes: Uint8Array<ArrayBuffer>) {
    if (firstIndex !== this.#nextIndex) {
      throw new RangeError(`push requires firstIndex ${this.#nextIndex}, got ${firstIndex}`)
    }
    this.#frames.push({ firstIndex, count, bytes })
    this.#bytes += bytes.byteLength
    this.#nextIndex = firstIndex + count
    this.#keepWithinLimit()
  }

  /** The next `count` samples never reached this sender: tells the loss in their place. */
  pushLost(count: number) {
    this.#frames.push({ firstIndex: this.#nextIndex, count, bytes: null })
    this.#nextIndex += count
  }

  /** The next frame to send, counted as sent; null when all are on their way. */
  take(): OutboxFrame | null {
    if (this.#sent >= this.#frames.length) return null
    return this.#frames[this.#sent++]
  }

  /** The server stored everything below `nextIndex`: forget it. */
  acknowledge(nextIndex: number) {
    let stored = 0
    while (stored < this.#frames.length) {
      const frame = this.#frames[stored]
      if (frame.firstIndex + frame.count > nextIndex) break
      this.#bytes -= frame.bytes?.byteLength ?? 0
      stored++
    }
    this.#frames.splice(0, stored)
    this.#sent = Math.max(0, this.#sent - stored)
  }

  /**
   * A new connection: forget what is stored, send everything else again from the start. When the
   * server holds less than was ever acknowledged, what is gone here too is told as lost.
   */
  resumeFrom(nextIndex: number) {
    this.acknowledge(nextIndex)
    this.#sent = 0
    const { firstIndex } = this
    if (firstIndex > nextIndex) {
      const count = firstIndex - nextIndex
      this.#frames.unshift({ firstIndex: nextIndex, count, bytes: null })
      this.#lostSamples += count
    }
    this.#nextIndex = Math.max(this.#nextIndex, nextIndex)
  }

  #keepWithinLimit() {
    while (this.#bytes > this.#limitBytes && this.#frames.length > 1) {
      const oldest = this.#frames.findIndex((frame) => frame.bytes !== null)
      const frame = this.#frames[oldest]
      this.#bytes -= frame.bytes!.byteLength
      this.#lostSamples += frame.count
      // Everything before it is lost too: one notice for all of it.
      const { firstIndex } = this.#frames[0]
      const count = frame.firstIndex + frame.count - firstIndex
      this.#frames.splice(0, oldest + 1, { firstIndex, count, bytes: null })
      this.#sent = Math.max(0, this.#sent - oldest)
    }
  }
}
