import type { SampleBlock } from '../store/time-series.ts'

/**
 * Rows `index,value,…` of a block, each ended by a line feed. A value is the shortest decimal that reads back
 * to exactly the same float (of 32 or 64 bits as stored), -0 included.
 */
export function samplesCsv({ dtype, values, firstIndex, count }: SampleBlock): string {
  const text = dtype === 'float32' ? shortestFloat32 : shortestFloat64
  let csv = ''
  for (let i = 0; i < count; i++) {
    csv += firstIndex + i
    for (const column of values) csv += `,${text(column[i])}`
    csv += '\n'
  }
  return csv
}

/** ECMAScript's Number::toString is the shortest already; it only forgets the sign of zero. */
function shortestFloat64(value: number): string {
  return Object.is(value, -0) ? '-0' : String(value)
}

/** Six digits always survive a float32, nine always tell it from its neighbours (IEEE 754-2019 §5.12.2). */
const FEWEST_DIGITS = 6
const MOST_DIGITS = 9
/** Below, a float32 has fewer digits than that. */
const SMALLEST_NORMAL = 2 ** -126

function shortestFloat32(value: number): string {
  // Steps of a sensor are often short decimals or powers of two.
  if (Number.isInteger(value)) return shortestFloat64(value)
  const fewest = Math.abs(value) < SMALLEST_NORMAL ? 1 : FEWEST_DIGITS
  for (let digits = fewest; digits < MOST_DIGITS; digits++) {
    const decimal = Number(value.toPrecision(digits))
    if (Math.fround(decimal) === value) return String(decimal)
  }
  return String(Number(value.toPrecision(MOST_DIGITS)))
}
