import { parseIsoTime } from './iso-time.ts'
import { shorten, TraceError } from './trace-error.ts'
import { NumberReader } from './numbers.ts'
import { TICKS_PER_S } from './units.ts'
import type { Cell } from './table.ts'
import type { Place } from './trace-error.ts'
import type { TimeUnit } from './units.ts'

const REMEDY = 'Every row needs its time, in seconds, ms, µs, ns, or ISO 8601.'

/**
 * Reads time cells relative to the first one. Stamps such as nanoseconds since 1970 have more
 * digits than a float64 holds, so whole part and fraction are subtracted apart, the whole part in
 * two pieces.
 */
export class StampReader {
  /** Set by the first stamp. ISO stamps are in seconds. */
  form: 'number' | 'iso' | null = null
  /** Most decimals seen. */
  decimals = 0
  /** Least number of zeros at the end of whole-numbered stamps. */
  trailingZeros = Infinity
  hasZone = true
  private readonly numbers: NumberReader
  private firstHigh = 0
  private firstLow = 0
  private firstFraction = 0

  constructor(commaMayBeDecimal: boolean) {
    this.numbers = new NumberReader(commaMayBeDecimal)
  }

  /** The first stamp in stamp units; to float64 precision, which for an epoch in ns is 256 ns. */
  get first(): number {
    return this.firstHigh * 1e9 + this.firstLow + this.firstFraction
  }

  /** Microseconds of the first stamp, given how many stamp units make a microsecond. */
  firstUs(perUs: number): number {
    return Math.round((this.firstHigh * 1e9) / perUs + (this.firstLow + this.firstFraction) / perUs)
  }

  /** @throws {TraceError} BAD_TIME, NON_FINITE */
  read(cell: Cell, place: () => Place): number {
    const isFirst = this.form === null
    if (typeof cell === 'string' && (this.form === 'iso' || (isFirst && parseIsoTime(cell) !== null))) {
      return this.readIso(cell, isFirst, place)
    }
    this.form = 'number'
    return this.readNumber(cell, isFirst, place)
  }

  private readIso(cell: string, isFirst: boolean, place: () => Place): number {
    this.form = 'iso'
    const time = parseIsoTime(cell)
    if (time === null) throw badTime(cell, place)
    if (isFirst) this.hasZone = time.hasZone
    if (time.hasZone !== this.hasZone) {
      throw new TraceError(
        'BAD_TIME',
        `"${shorten(cell)}": some times have a zone and some have none`,
        REMEDY,
        place(),
      )
    }
    this.decimals = Math.max(this.decimals, time.fractionDigits)
    return this.relative(isFirst, 0, time.wholeS, time.fractionS)
  }

  private readNumber(cell: Cell, isFirst: boolean, place: () => Place): number {
    const text = typeof cell === 'number' ? String(cell) : cell.trim()
    const value = readOrExplain(this.numbers, cell, text, place)
    let point = text.indexOf('.')
    if (point === -1) point = text.indexOf(',')
    const isPlain = isDigits(text, point)
    // A time before zero shows its resolution as well.
    const isShown = isPlain || (text.charCodeAt(0) === 45 && isDigits(text.slice(1), point - 1))
    if (point > 0 && isShown) this.decimals = Math.max(this.decimals, text.length - point - 1)
    else if (isShown) this.trailingZeros = Math.min(this.trailingZeros, zerosAtEnd(text))
    const wholeDigits = point === -1 ? text.length : point
    if (!isPlain || wholeDigits < LONG_DIGITS) return this.relative(isFirst, 0, value, 0)
    const whole = text.slice(0, wholeDigits)
    const fraction = point === -1 ? 0 : Number(`0.${text.slice(point + 1)}`)
    return this.relative(isFirst, Number(whole.slice(0, -9)), Number(whole.slice(-9)), fraction)
  }

  private relative(isFirst: boolean, high: number, low: number, fraction: number): number {
    if (isFirst) {
      this.firstHigh = high
      this.firstLow = low
      this.firstFraction = fraction
    }
    return (high - this.firstHigh) * 1e9 + (low - this.firstLow) + (fraction - this.firstFraction)
  }
}

/** Whole parts shorter than this lose nothing that matters in a float64. */
const LONG_DIGITS = 10

/**
 * What the stamps can resolve, s: the last decimal written, or for whole numbers the zeros they
 * all end in, by thousands (ns stamps of a µs clock end in 000).
 */
export function stampResolution(stamps: StampReader, unit: TimeUnit): number {
  if (stamps.decimals > 0) return 10 ** -stamps.decimals / TICKS_PER_S[unit]
  const zeros = Number.isFinite(stamps.trailingZeros) ? Math.floor(stamps.trailingZeros / 3) * 3 : 0
  return 10 ** Math.min(zeros, 9) / TICKS_PER_S[unit]
}

function readOrExplain(numbers: NumberReader, cell: Cell, text: string, place: () => Place): number {
  try {
    return numbers.read(cell, place)
  } catch (error) {
    if (error instanceof TraceError && error.code === 'BAD_NUMBER') throw badTime(text, place)
    throw error
  }
}

function badTime(text: string, place: () => Place): TraceError {
  return new TraceError('BAD_TIME', `"${shorten(text)}" is not a time`, REMEDY, { ...place(), value: text })
}

/** True for digits only, with at most the decimal sign at `point`. */
function isDigits(text: string, point: number): boolean {
  for (let i = 0; i < text.length; i++) {
    const code = text.charCodeAt(i)
    if (i !== point && (code < 48 || code > 57)) return false
  }
  return true
}

/** Zeros at the end; a stamp of 0 ends in any number of them. */
function zerosAtEnd(text: string): number {
  let count = 0
  while (count < text.length && text.charCodeAt(text.length - 1 - count) === 48) count++
  return count === text.length ? Infinity : count
}
