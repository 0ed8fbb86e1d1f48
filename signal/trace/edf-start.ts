/** Month names as EDF+ writes them. */
export const MONTHS = ['JAN', 'FEB', 'MAR', 'APR', 'MAY', 'JUN', 'JUL', 'AUG', 'SEP', 'OCT', 'NOV', 'DEC']
/** Two-digit years from here on belong to the last century (EDF+ §2.1.3, item 2). */
export const CLIPPING_YEAR = 85

export interface EdfStart {
  /** Microseconds since 1970 of the whole second the file starts in; null when it does not tell. */
  readonly startUs: number | null
  readonly note: string | null
}

/**
 * When an EDF file starts. The date of the recording field (`Startdate 02-MAR-2026`) goes before the
 * two-digit one. EDF keeps local time without a zone; read as UTC then, and noted. A fifth subfield
 * `UTC` or `UTC+01:00`, as this project writes it, names the zone.
 */
export function readEdfStart(recording: string, startDate: string, startTime: string): EdfStart {
  const unknown = (note: string): EdfStart => ({ startUs: null, note })
  const subfields = recording.split(/ +/)
  const isPlus = subfields[0] === 'Startdate'
  if (isPlus && subfields[1] === 'X') return unknown('The file does not tell when it was recorded.')
  const day = (isPlus ? longDate(subfields[1] ?? '') : null) ?? shortDate(startDate)
  const time = /^(\d\d)[.:](\d\d)[.:](\d\d)$/.exec(startTime)?.slice(1).map(Number)
  if (day === null || time === undefined || time[0] > 23 || time[1] > 59 || time[2] > 59) {
    return unknown(
      'The start date or time of the file cannot be read, so the moment of the recording is unknown.',
    )
  }
  const [hour, minute, second] = time
  const localUs = (day + hour * 3600 + minute * 60 + second) * 1e6
  if (!isPlus && localUs === PLACEHOLDER_US) return unknown('The file does not tell when it was recorded.')
  const zone = isPlus ? /^UTC(?:([+-])(\d\d):(\d\d))?$/.exec(subfields[5] ?? '') : null
  if (zone === null) {
    return { startUs: localUs, note: 'The start is a local time without a zone and was taken as UTC.' }
  }
  const [, sign = '+', hours = '0', minutes = '0'] = zone
  const offsetS = (sign === '-' ? -1 : 1) * (Number(hours) * 3600 + Number(minutes) * 60)
  return { startUs: localUs - offsetS * 1e6, note: null }
}

/** 1 January 1985, midnight: what anonymised files carry. */
const PLACEHOLDER_US = Date.UTC(1985, 0, 1) * 1000

function longDate(text: string): number | null {
  const match = /^(\d\d)-([A-Z]{3})-(\d{4})$/.exec(text)
  return match === null ? null : dayS(Number(match[3]), MONTHS.indexOf(match[2]), Number(match[1]))
}

function shortDate(text: string): number | null {
  const match = /^(\d\d)[./-](\d\d)[./-](\d\d)$/.exec(text)?.slice(1).map(Number)
  if (match === undefined) return null
  const [day, month, year] = match
  return dayS(year >= CLIPPING_YEAR ? 1900 + year : 2000 + year, month - 1, day)
}

/** Seconds since 1970 of a real day, or null. */
function dayS(year: number, month: number, day: number): number | null {
  const date = new Date(0)
  date.setUTCFullYear(year, month, day)
  const isReal = date.getUTCFullYear() === year && date.getUTCMonth() === month && date.getUTCDate() === day
  return isReal ? date.getTime() / 1000 : null
}

/** The fields of an EDF+ header that tell the start. */
export interface WrittenStart {
  readonly date: string
  readonly time: string
  readonly recording: string
  /** Seconds from the written time to the first sample. */
  readonly fractionS: number
}

/**
 * The start fields of an EDF+ header for a first sample at `firstUs` (UTC microseconds, or null when it is
 * not known): local time, and the zone as a further subfield behind the five anonymous ones.
 *
 * @throws {RangeError} outside the years 1000 to 9999 and for offsets that are not whole minutes of a day
 */
export function writtenStart(firstUs: number | null, utcOffsetMin: number): WrittenStart {
  if (firstUs === null) {
    return { date: '01.01.85', time: '00.00.00', recording: 'Startdate X X X X', fractionS: 0 }
  }
  const wholeS = Math.floor(firstUs / 1e6)
  const local = new Date((wholeS + 60 * utcOffsetMin) * 1000)
  const year = local.getUTCFullYear()
  if (!(year >= 1000 && year <= 9999)) {
    throw new RangeError(`formatEdf requires a start in the years 1000 to 9999, got startedAtUs ${firstUs}`)
  }
  const two = (value: number) => String(value).padStart(2, '0')
  const day = two(local.getUTCDate())
  // Two digits stand for 1985 to 2084; beyond, only the recording field tells.
  const isShort = year >= 1900 + CLIPPING_YEAR && year < 2000 + CLIPPING_YEAR
  return {
    date: `${day}.${two(local.getUTCMonth() + 1)}.${isShort ? two(year % 100) : 'yy'}`,
    time: [local.getUTCHours(), local.getUTCMinutes(), local.getUTCSeconds()].map(two).join('.'),
    recording: `Startdate ${day}-${MONTHS[local.getUTCMonth()]}-${year} X X X ${zone(utcOffsetMin)}`,
    fractionS: (firstUs - wholeS * 1e6) / 1e6,
  }
}

function zone(offsetMin: number): string {
  if (!(Number.isInteger(offsetMin) && Math.abs(offsetMin) < 24 * 60)) {
    throw new RangeError(`formatEdf requires whole utcOffsetMin within a day, got ${offsetMin}`)
  }
  if (offsetMin === 0) return 'UTC'
  const minutes = Math.abs(offsetMin)
  const two = (value: number) => String(value).padStart(2, '0')
  return `UTC${offsetMin < 0 ? '-' : '+'}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`
}
