const FIELD_CHARS = 8

/**
 * A number in the 8 characters of an EDF header field, without exponent: rounded down (so that the
 * smallest sample does not clip), up, or to the nearest.
 *
 * @throws {RangeError} when it is not finite or has more digits before the point than fit
 */
export function numberField(value: number, rounding: 'down' | 'up' | 'nearest'): string {
  for (let decimals = FIELD_CHARS - 2; decimals >= 0; decimals--) {
    const scale = 10 ** decimals
    const count = { down: Math.floor, up: Math.ceil, nearest: Math.round }[rounding](value * scale)
    // value · scale is itself rounded and may have crossed a whole number: then one count further.
    for (const further of [0, rounding === 'down' ? -1 : 1]) {
      const text = plain((count + further) / scale, decimals)
      const back = Number(text)
      const isRight = rounding === 'nearest' || (rounding === 'down' ? back <= value : back >= value)
      if (isRight && text.length <= FIELD_CHARS) return text
    }
  }
  throw new RangeError(`an EDF header field holds a number of 8 characters, got ${value}`)
}

function plain(value: number, decimals: number): string {
  const text = value.toFixed(decimals)
  const short = text.includes('.') ? text.replace(/\.?0+$/, '') : text
  return short === '-0' ? '0' : short
}
