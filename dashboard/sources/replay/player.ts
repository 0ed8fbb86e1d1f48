import type { Mark } from '#signal/trace/trace'
import type { Playable } from './playable'

export interface PlayerSink {
  samples(firstIndex: number, values: Float64Array[]): void
  mark(mark: Mark): void
  end(): void
}

/**
 * Gives out a trace as its time goes by, without a clock of its own: `advance(elapsedS)` delivers what is
 * due. Indices of the trace are moved by `offset`, so that a trace played again goes on ascending.
 */
export class Player {
  readonly #trace: Playable
  readonly #sink: PlayerSink
  readonly #offset: number
  readonly #withMarks: boolean
  #run = 0
  #within = 0
  #mark = 0
  #ended = false

  constructor(trace: Playable, sink: PlayerSink, { offset = 0, withMarks = true } = {}) {
    this.#trace = trace
    this.#sink = sink
    this.#offset = offset
    this.#withMarks = withMarks
  }

  /** Delivers samples and marks of the first `elapsedS` seconds that were not delivered yet. */
  advance(elapsedS: number): void {
    if (this.#ended) return
    const { rateHz, runs, marks, endIndex } = this.#trace
    // A sample is there once its own instant has come.
    const dueIndex = Math.floor(elapsedS * rateHz + 1e-9) + 1
    while (this.#run < runs.length) {
      const { firstIndex, values } = runs[this.#run]
      const to = Math.min(values[0].length, dueIndex - firstIndex)
      if (to <= this.#within) break
      this.#sink.samples(
        this.#offset + firstIndex + this.#within,
        values.map((channel) => channel.slice(this.#within, to)),
      )
      this.#within = to
      if (to < values[0].length) break
      this.#run++
      this.#within = 0
    }
    while (this.#mark < marks.length && marks[this.#mark].atS <= elapsedS) {
      const mark = marks[this.#mark++]
      if (this.#withMarks) this.#sink.mark({ ...mark, atS: mark.atS + this.#offset / rateHz })
    }
    if (elapsedS * rateHz < endIndex || this.#mark < marks.length) return
    this.#ended = true
    this.#sink.end()
  }
}
