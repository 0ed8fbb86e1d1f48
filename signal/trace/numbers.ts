import { shorten, TraceError } from './trace-error.ts'
import type { Cell } from './table.ts'
import type { Place } from './trace-error.ts'

const DECIMAL = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?$/i
const DECIMAL_COMMA = /^[+-]?(?:\d+,?\d*|,\d+)(?:e[+-]?\d+)?$/i
const NOT_FINITE = /^[+-]?(?:nan|inf|infinity|#n\/a|1\.#(?:inf|qnan|ind)\w*)$/i

/** True when the cell is written as a finite decimal number. */
export function looksNumeric(cell: Cell, commaMayBeDecimal: boolean): boolean {
  if (typeof cell === 'number') return true
  const text = cell.trim()
  return DECIMAL.test(text) || (commaMayBeDecimal && DECIMAL_COMMA.test(text))
}

/**
 * Reads numbers cell by cell; remembers which decimal sign the file uses, because a file that
 * uses both (`1.234,5`) cannot be read without guessing.
 */
export class NumberReader {
  usesDecimalComma = false
  private usesDecimalPoint = false
  private readonly commaMayBeDecimal: boolean

  constructor(commaMayBeDecimal: boolean) {
    this.commaMayBeDecimal = commaMayBeDecimal
  }

  /**
   * @param place is called only for an error
   * @throws {TraceError} BAD_NUMBER, NON_FINITE
   */
  read(cell: Cell, place: () => Place): number {
    if (typeof cell === 'number') {
      if (Number.isFinite(cell)) return cell
      throw notFinite(cell, place)
    }
    const value = Number(cell)
    // Number() also takes '', blanks, '0x1f' and 'Infinity': only plain decimals pass here.
    if (Number.isFinite(value) && (value !== 0 || DECIMAL.test(cell.trim())) && !isPrefixed(cell)) {
      if (this.commaMayBeDecimal && cell.includes('.')) {
        this.usesDecimalPoint = true
        if (this.usesDecimalComma) throw mixed(cell, place)
      }
      return value
    }
    const text = cell.trim()
    if (this.commaMayBeDecimal && text.includes(',') && DECIMAL_COMMA.test(text)) {
      this.usesDecimalComma = true
      if (this.usesDecimalPoint) throw mixed(cell, place)
      const withPoint = Number(text.replace(',', '.'))
      if (Number.isFinite(withPoint)) return withPoint
    }
    if (NOT_FINITE.test(text) || DECIMAL.test(text)) throw notFinite(cell, place)
    throw new TraceError('BAD_NUMBER', `"${shorten(text)}" is not a number`, REMEDY, {
      ...place(),
      value: text,
    })
  }
}

const REMEDY = 'Remove the row or fill the cell (a missed sample has all three axes empty).'

function isPrefixed(cell: string): boolean {
  const text = cell.trim()
  const second = text.charCodeAt(1) | 32
  return text.charCodeAt(0) === 48 && (second === 120 || second === 98 || second === 111)
}

function notFinite(cell: Cell, place: () => Place): TraceError {
  return new TraceError('NON_FINITE', `"${shorten(String(cell))}" is not a finite number`, REMEDY, {
    ...place(),
    value: String(cell),
  })
}

function mixed(cell: string, place: () => Place): TraceError {
  return new TraceError(
    'BAD_NUMBER',
    `"${shorten(cell)}": the file uses both the comma and the point as decimal sign`,
    'Write all numbers with a decimal point.',
    { ...place(), value: cell },
  )
}
