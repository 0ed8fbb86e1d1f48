/**
 * Sample indices from a counter that starts again at `modulo`. Each step is taken the short way round: less
 * than half the modulo forward is progress, anything else a packet that came late or twice.
 *
 * @param raw counter values, whole, in [0, modulo)
 * @param modulo counts before it wraps: 256 for 8 bits, 65536 for 16
 * @returns indices, the first equal to raw[0], shape (n)
 * @throws {RangeError} for a modulo below 2 and values outside [0, modulo)
 */
export function unwrapCounter(raw: ArrayLike<number>, modulo: number): Float64Array {
  const unwrap = new CounterUnwrap(modulo)
  return Float64Array.from({ length: raw.length }, (_, i) => unwrap.next(raw[i]))
}

/** `unwrapCounter`, value by value. */
export class CounterUnwrap {
  private readonly modulo: number
  private last: number | null = null

  /** @throws {RangeError} for a modulo that is no whole number of 2 or more */
  constructor(modulo: number) {
    if (!(Number.isSafeInteger(modulo) && modulo >= 2)) {
      throw new RangeError(`CounterUnwrap requires a whole modulo >= 2, got ${modulo}`)
    }
    this.modulo = modulo
  }

  /**
   * The index of the next counter value.
   *
   * @param silenceS seconds since the last one, with `rateHz`, when they are known
   * @throws {RangeError} for a value outside [0, modulo), and when so much could have been missed in the
   *   silence (half the modulo) that the counter no longer tells: begin a new segment then (`isAmbiguous`)
   */
  next(raw: number, silenceS = 0, rateHz = 0): number {
    const { modulo } = this
    if (!(Number.isInteger(raw) && raw >= 0 && raw < modulo)) {
      throw new RangeError(`a counter modulo ${modulo} holds whole numbers from 0, got ${raw}`)
    }
    if (this.last === null) return (this.last = raw)
    if (isAmbiguous(silenceS, rateHz, modulo)) {
      throw new RangeError(
        `${silenceS} s of silence at ${rateHz} Hz may hide more than half of a counter modulo ${modulo}; begin anew`,
      )
    }
    const step = (((raw - this.last) % modulo) + modulo) % modulo
    const index = this.last + (step < modulo / 2 ? step : step - modulo)
    // A late packet tells its own place; the next one is counted from the newest.
    this.last = Math.max(this.last, index)
    return index
  }
}

/** True when silence × rate exceeds half the modulo, so that a counter cannot tell how much was lost. */
export function isAmbiguous(silenceS: number, rateHz: number, modulo: number): boolean {
  return silenceS * rateHz > modulo / 2
}
