import { filterForward, filterThreeForward } from './cascade.ts'
import type { Three } from './cascade.ts'
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
    const output = x.slice()
    filterForward(this.#sos, this.#state, output)
    return output
  }

  /**
   * `process` for three channels at once, each by its filter, into the front of arrays at least as long.
   * All three filters must be of the same design.
   */
  static processThree(
    [fx, fy, fz]: readonly [CausalFilter, CausalFilter, CausalFilter],
    channels: Three,
    output: Three,
  ): void {
    const n = channels[0].length
    const [x, y, z] = output.map((into, axis) => {
      into.set(channels[axis])
      return into.subarray(0, n)
    })
    filterThreeForward(fx.#sos, [fx.#state, fy.#state, fz.#state], [x, y, z])
  }
}
