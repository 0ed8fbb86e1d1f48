const ISO =
  /^(\d{4})-(\d{2})-(\d{2})[T ](\d{2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?\s?(Z|[+-]\d{2}:?\d{2}|[+-]\d{2})?$/i

/** An instant as whole seconds since 1970 and the fraction, kept apart so that no digit is lost. */
export interface IsoTime {
  readonly wholeS: number
  readonly fractionS: number
  readonly fractionDigits: number
  /** False when no zone stands behind it: then the instant is not known, only differences are. */
  readonly hasZone: boolean
}

export function looksIsoTime(cell: string | number): boolean {
  return typeof cell === 'string' && ISO.test(cell.trim())
}

/**
 * Reads an ISO 8601 date and time (`2026-03-04T05:06:07.123Z`, also with a blank for the T), or
 * null when the text is none. Leap seconds (`:60`) are not accepted.
 */
export function parseIsoTime(text: string): IsoTime | null {
  const match = ISO.exec(text.trim())
  if (match === null) return null
  const [, year, month, day, hour, minute, second = '0', fraction = '', zone] = match
  const date = new Date(Date.UTC(+year, +month - 1, +day, +hour, +minute, +second))
  const isReal = date.getUTCMonth() === +month - 1 && date.getUTCDate() === +day && +hour < 24
  if (!isReal || +minute > 59 || +second > 59) return null
  // Date.UTC reads the years 0 to 99 as 1900 to 1999.
  if (date.getUTCFullYear() !== +year) return null
  let offsetS = 0
  if (zone !== undefined && zone.toUpperCase() !== 'Z') {
    const sign = zone.startsWith('-') ? -1 : 1
    offsetS = sign * (+zone.slice(1, 3) * 3600 + +(zone.slice(3).replace(':', '') || '0') * 60)
  }
  return {
    wholeS: date.getTime() / 1000 - offsetS,
    fractionS: fraction === '' ? 0 : Number(`0.${fraction}`),
    fractionDigits: fraction.length,
    hasZone: zone !== undefined,
  }
}

/** UTC microseconds of an ISO 8601 time with a zone, or null. */
export function isoToUs(text: string): number | null {
  const time = parseIsoTime(text)
  if (time === null || !time.hasZone) return null
  return time.wholeS * 1e6 + Math.round(time.fractionS * 1e6)
}

/** ISO 8601 in UTC with six decimals, e.g. `2026-03-04T05:06:07.123456Z`. */
export function usToIso(tUs: number): string {
  const wholeS = Math.floor(tUs / 1e6)
  const us = Math.round(tUs - wholeS * 1e6)
  return `${new Date(wholeS * 1000).toISOString().slice(0, 19)}.${String(us).padStart(6, '0')}Z`
}
