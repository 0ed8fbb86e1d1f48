import { encodeFrame } from '#protocol/frames'
import type { FrameScale } from '#protocol/frames'
import type { OutboxFrame } from '../lib/outbox'

/** Samples in one frame at most: 6 channels of float32 stay below the server's 64 KiB. */
export const MAX_PACKED_SAMPLES = 1024
/** A count further than this from a whole number is not an exact multiple of the scale. */
const COUNT_TOLERANCE = 0.01
const INT16_MAX = 32767
const INT16_MIN = -32768

interface Block {
  readonly firstIndex: number
  readonly count: number
  arrivedAtUs: number
  readonly values: readonly Float64Array[]
}

/**
 * Samples as they come → frames. Every packet becomes a frame of its own when frames are fetched
 * at once; what waited meanwhile is merged, so that a backlog takes few frames. What comes twice
 * is dropped; samples that are no numbers count as never arrived, since the wire carries none.
 */
export class FramePacker {
  readonly #channels: 3 | 6
  readonly #scale: FrameScale | undefined
  #blocks: Block[] = []
  #nextIndex = 0
  #lostSamples = 0

  constructor({ channels, scale }: { channels: 3 | 6; scale?: FrameScale }) {
    this.#channels = channels
    this.#scale = scale
  }

  /** One past the last sample taken. */
  get nextIndex() {
    return this.#nextIndex
  }

  /** Samples between those taken that never came. */
  get lostSamples() {
    return this.#lostSamples
  }

  /** Samples taken and not fetched yet. */
  get waitingSamples() {
    return this.#blocks.reduce((sum, { count }) => sum + count, 0)
  }

  /**
   * Takes samples `firstIndex …`, one array per channel.
   *
   * @returns the pieces that are new and complete, each without a hole
   */
  take(
    firstIndex: number,
    values: readonly Float64Array[],
    arrivedAtUs: number,
  ): Omit<Block, 'arrivedAtUs'>[] {
    if (values.length !== this.#channels) {
      throw new RangeError(`FramePacker.take requires ${this.#channels} channels, got ${values.length}`)
    }
    const count = values[0].length
    const pieces: Block[] = []
    let from = Math.max(0, this.#nextIndex - firstIndex)
    while (from < count) {
      if (!isNumber(values, from)) {
        from++
        continue
      }
      let to = from + 1
      while (to < count && isNumber(values, to)) to++
      const piece = values.map((channel) => channel.slice(from, to))
      pieces.push({ firstIndex: firstIndex + from, count: to - from, arrivedAtUs, values: piece })
      from = to
    }
    for (const piece of pieces) {
      this.#lostSamples += piece.firstIndex - this.#nextIndex
      this.#nextIndex = piece.firstIndex + piece.count
    }
    this.#blocks.push(...pieces)
    return pieces
  }

  /** All that waits, as frames; a jump of the index between two of them is a loss. */
  drain(): OutboxFrame[] {
    const frames = merged(this.#blocks).map((block) => this.#encode(block))
    this.#blocks = []
    return frames
  }

  #encode({ firstIndex, count, arrivedAtUs, values }: Block): OutboxFrame {
    const frame = { firstIndex, count, channels: this.#channels, arrivedAtUs, values }
    const scale = this.#scale
    const bytes =
      scale && fitsScale(values, scale)
        ? encodeFrame({ ...frame, encoding: 'int16' }, scale)
        : encodeFrame({ ...frame, encoding: 'float32' })
    return { firstIndex, count, bytes }
  }
}

function isNumber(values: readonly Float64Array[], i: number): boolean {
  return values.every((channel) => Number.isFinite(channel[i]))
}

/** True when every value is a whole number of counts that fits 16 bits: int16 loses nothing then. */
export function fitsScale(values: readonly Float64Array[], scale: FrameScale): boolean {
  return values.every((channel, c) => {
    const perCount = c < 3 ? scale.accMs2PerCount : scale.gyrRadSPerCount
    return channel.every((value) => {
      const counts = value / perCount
      const whole = Math.round(counts)
      return whole >= INT16_MIN && whole <= INT16_MAX && Math.abs(counts - whole) <= COUNT_TOLERANCE
    })
  })
}

function merged(blocks: readonly Block[]): Block[] {
  const groups: Block[][] = []
  for (const block of blocks.flatMap(split)) {
    const group = groups.at(-1)
    const last = group?.at(-1)
    const size = group?.reduce((sum, { count }) => sum + count, 0) ?? 0
    const follows = last !== undefined && last.firstIndex + last.count === block.firstIndex
    if (group && follows && size + block.count <= MAX_PACKED_SAMPLES) group.push(block)
    else groups.push([block])
  }
  return groups.map((group) => ({
    firstIndex: group[0].firstIndex,
    count: group.reduce((sum, { count }) => sum + count, 0),
    arrivedAtUs: group.at(-1)!.arrivedAtUs,
    values: group[0].values.map((_, c) => joined(group.map(({ values }) => values[c]))),
  }))
}

function split(block: Block): Block[] {
  const pieces: Block[] = []
  for (let from = 0; from < block.count; from += MAX_PACKED_SAMPLES) {
    const values = block.values.map((channel) => channel.subarray(from, from + MAX_PACKED_SAMPLES))
    pieces.push({ ...block, firstIndex: block.firstIndex + from, count: values[0].length, values })
  }
  return pieces
}

function joined(parts: readonly Float64Array[]): Float64Array {
  if (parts.length === 1) return parts[0]
  const all = new Float64Array(parts.reduce((sum, { length }) => sum + length, 0))
  let at = 0
  for (const part of parts) {
    all.set(part, at)
    at += part.length
  }
  return all
}
