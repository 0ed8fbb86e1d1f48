import { CHANNELS } from '../bench/live/waveform.ts'
import { lostRanges } from './sensor.ts'
import { truthOf } from './truth.ts'
import type { RecordingKey } from './truth.ts'

/** What became of the samples of a recording. */
export interface SampleCount {
  /** Given back once, in order, with every value as it was taken. */
  readonly exact: number
  /** Acknowledged and not given back like that. */
  readonly lost: number
  readonly doubled: number
  /** Given back after a later one. */
  readonly disordered: number
  /** With values that the sensor never took there: changed, or nobody's. */
  readonly unknown: number
}

/** How far from its place a row is looked for by its values. */
const SEARCH_SAMPLES = 20_000

/** Compares what is given back of one recording, in the order it comes, with what its sensor took. */
export class Comparison {
  readonly #truth: (channel: number, index: number) => number
  /** Indices that were not lost on the radio, ascending. */
  readonly #taken: Float64Array
  readonly #placeOfIndex: Int32Array
  readonly #isSeen: Uint8Array
  #next = 0
  #seen = 0
  #exact = 0
  #doubled = 0
  #disordered = 0
  #unknown = 0

  /** @param acknowledged all below must be there: `lost` counts what is not */
  constructor(key: RecordingKey, acknowledged: number) {
    this.#truth = truthOf(key)
    this.#taken = takenIndices(key, acknowledged)
    this.#placeOfIndex = new Int32Array(acknowledged).fill(-1)
    for (const [place, index] of this.#taken.entries()) this.#placeOfIndex[index] = place
    this.#isSeen = new Uint8Array(this.#taken.length)
  }

  /** A sample that is said to be number `index`. */
  atIndex(index: number, values: ArrayLike<number>): void {
    const place = this.#placeOfIndex[index] ?? -1
    if (place < 0 || !this.#isSample(place, values)) this.#unknown++
    else this.#count(place)
  }

  /** The next sample of a trace, whose values say which it is; gives its index, null when it is none. */
  next(values: ArrayLike<number>): number | null {
    const place = this.#find(values)
    if (place === null) this.#unknown++
    else this.#count(place)
    return place === null ? null : this.#taken[place]
  }

  result(): SampleCount {
    return {
      exact: this.#exact,
      lost: this.#taken.length - this.#seen,
      doubled: this.#doubled,
      disordered: this.#disordered,
      unknown: this.#unknown,
    }
  }

  #count(place: number): void {
    if (this.#isSeen[place]) {
      this.#doubled++
      return
    }
    this.#isSeen[place] = 1
    this.#seen++
    if (place < this.#next) this.#disordered++
    else this.#exact++
    this.#next = Math.max(this.#next, place + 1)
  }

  #find(values: ArrayLike<number>): number | null {
    if (this.#next < this.#taken.length && this.#isSample(this.#next, values)) return this.#next
    for (let far = 1; far <= SEARCH_SAMPLES; far++) {
      for (const place of [this.#next + far, this.#next - far]) {
        if (place >= 0 && place < this.#taken.length && this.#isSample(place, values)) return place
      }
    }
    return null
  }

  #isSample(place: number, values: ArrayLike<number>): boolean {
    const index = this.#taken[place]
    for (let c = 0; c < CHANNELS; c++) if (values[c] !== this.#truth(c, index)) return false
    return true
  }
}

function takenIndices(key: RecordingKey, acknowledged: number): Float64Array {
  const isLost = new Uint8Array(acknowledged)
  for (const { firstIndex, count } of lostRanges(key, acknowledged)) {
    isLost.fill(1, firstIndex, firstIndex + count)
  }
  const taken = new Float64Array(isLost.reduce((sum, lost) => sum + 1 - lost, 0))
  let place = 0
  for (const [index, lost] of isLost.entries()) if (!lost) taken[place++] = index
  return taken
}

export function sumOf(counts: readonly SampleCount[]): SampleCount {
  const sum = (of: (count: SampleCount) => number) => counts.reduce((total, count) => total + of(count), 0)
  return {
    exact: sum(({ exact }) => exact),
    lost: sum(({ lost }) => lost),
    doubled: sum(({ doubled }) => doubled),
    disordered: sum(({ disordered }) => disordered),
    unknown: sum(({ unknown }) => unknown),
  }
}

export function isExact({ lost, doubled, disordered, unknown }: SampleCount): boolean {
  return lost + doubled + disordered + unknown === 0
}
