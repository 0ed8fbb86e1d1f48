import { filterForward } from './cascade.ts'
import { steadyState } from './sos.ts'
import type { Sos } from './sos.ts'

/**
 * A filter for live samples: keeps its state between calls, so any split of a stream gives the same
 * output. Direct form II transposed; equal to SciPy's `sosfilt`. Starts at rest (as if all earlier
 * samples were 0) unless `settle` is called first. No allocation per sample.
 */
export class CausalFilter {
  readonly #sos: Sos
  readonly #unitState: Float64Array
  readonly #state: Float64Array

  constructor(sos: Sos) {
    if (sos.length === 0) throw new RangeError('CausalFilter requires at least one section')
    this.#sos = sos
    this.#unitState = steadyState(sos)
    this.#state = new Float64Array(2 * sos.length)
  }

  /** Sets the state reached after a long constant input of `value`; drops what came before. */
  settle(value: number): void {
    for (let i = 0; i < this.#state.length; i++) this.#state[i] = this.#unitState[i] * value
  }

  /** The filtered sample, in the unit of `value`. */
  push(value: number): number {
    const state = this.#state
    let signal = value
    for (let i = 0; i < this.#sos.length; i++) {
      const row = this.#sos[i]
      const output = row[0] * signal + state[2 * i]
      state[2 * i] = row[1] * signal - row[4] * output + state[2 * i + 1]
      state[2 * i + 1] = row[2] * signal - row[5] * output
      signal = output
    }
    return signal
  }

  /** The filtered samples, shape (n); `x` is not modified. Equal to `push` sample by sample. */
  process(x: Float64Array): Float64Array {
    const output = new Float64Array(x.length)
    this.processInto(x, output)
    return output
  }

  /** The same into the front of an array of at least that length. */
  processInto(x: Float64Array, output: Float64Array): void {
    output.set(x)
    filterForward(this.#sos, this.#state, output.length === x.length ? output : output.subarray(0, x.length))
  }
}
