/**
 * The two decimal floating-point types of IEEE 11073-20601 (SFLOAT-Type and FLOAT-Type): a signed
 * exponent of ten in the upper bits, a signed mantissa in the lower ones. Five mantissas around the end of
 * the range, with exponent 0, are no numbers: NaN, NRes (not at this resolution), +INFINITY, −INFINITY and
 * one reserved. All five are read as NaN here, because none of them is a reading.
 */

/** 16 bits: exponent 4, mantissa 12. @param bits whole, 0..65535 */
export function sfloatOf(bits: number): number {
  if (bits >= 0x07fe && bits <= 0x0802) return NaN
  return decimal((bits << 20) >> 20, (bits << 16) >> 28)
}

/** 32 bits: exponent 8, mantissa 24. @param bits whole, 0..2³²−1 */
export function floatOf(bits: number): number {
  if (bits >= 0x007ffffe && bits <= 0x00800002) return NaN
  return decimal((bits << 8) >> 8, bits >> 24)
}

/** Dividing by the exact power of ten gives the double nearest to the decimal, as multiplying by 0.1 does not. */
function decimal(mantissa: number, exponent: number): number {
  return exponent < 0 ? mantissa / 10 ** -exponent : mantissa * 10 ** exponent
}
