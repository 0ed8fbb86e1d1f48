/** The polynomial of CRC-32 (IEEE 802.3, as in zlib), bits reversed. */
const POLYNOMIAL = 0xedb88320

/**
 * CRC-32 of two runs of bytes one after the other, from the CRC of each and the length of the second. Each bit of the
 * first CRC is carried through as many zero bytes as the second run is long; carrying is linear over GF(2), so the
 * matrix for a length comes from squaring that for one bit.
 * @see Adler, crc32_combine() in zlib (zlib.net), which this follows
 */
export function crc32Combine(first: number, second: number, secondBytes: number): number {
  let crc = first
  let matrix = square(square(square(oneZeroBit())))
  for (let bytes = secondBytes; bytes > 0; bytes = Math.floor(bytes / 2)) {
    if (bytes % 2 === 1) crc = times(matrix, crc)
    matrix = square(matrix)
  }
  return (crc ^ second) >>> 0
}

function oneZeroBit(): Uint32Array {
  return Uint32Array.from({ length: 32 }, (_, bit) => (bit === 0 ? POLYNOMIAL : 2 ** (bit - 1)))
}

function times(matrix: Uint32Array, vector: number): number {
  let sum = 0
  for (let bit = 0, rest = vector; rest !== 0; bit++, rest >>>= 1) if (rest & 1) sum ^= matrix[bit]
  return sum >>> 0
}

function square(matrix: Uint32Array): Uint32Array {
  return matrix.map((column) => times(matrix, column))
}
