import type { SampleColumns } from '../time-series.ts'
import { MEASUREMENT, tagsOf, timeUs } from './place.ts'
import type { Place } from './place.ts'

/** Lines for samples, one each; field names are escaped, and every value reads back as the same float64. */
export function sampleLines(
  place: Place,
  columns: readonly string[],
  firstIndex: number,
  { values }: SampleColumns,
): string[] {
  const { dog, slot } = tagsOf(place)
  const keys = columns.map((name, c) => `${c === 0 ? '' : ','}${escapedKey(name)}=`)
  const series = `${MEASUREMENT},dog=${dog},slot=${slot} `
  const lines = new Array<string>(values[0].length)
  for (let i = 0; i < lines.length; i++) {
    let line = series
    for (let c = 0; c < keys.length; c++) line += keys[c] + floatText(values[c][i])
    lines[i] = `${line} ${timeUs(place, firstIndex + i)}`
  }
  return lines
}

/** Line protocol has no text for NaN and the infinities. */
export function isStorableColumns({ values }: SampleColumns): boolean {
  return values.every((column) => column.every(Number.isFinite))
}

/** The shortest decimal text that is this float64 again (ECMA-262, Number::toString), with the sign of zero. */
function floatText(value: number): string {
  return value === 0 && Object.is(value, -0) ? '-0' : String(value)
}

function escapedKey(name: string): string {
  return name.replace(/[,= ]/g, '\\$&')
}
