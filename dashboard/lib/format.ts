import { STANDARD_GRAVITY_MS2 } from '#signal/constants'

export type AccelerationUnit = 'si' | 'mg'

/** A number and its unit, kept apart so that the unit can be set smaller. */
export interface Quantity {
  value: string
  unit: string
}

const MINUS = '−'
const numbers = new Map<string, Intl.NumberFormat>()

/** A number with a fixed count of decimals in the reader's language; a true minus sign. */
export function decimal(value: number, digits: number): string {
  return format(`d${digits}`, { minimumFractionDigits: digits, maximumFractionDigits: digits }, value)
}

/** A number with three significant digits, without exponents for the sizes met here. */
export function significant(value: number, digits = 3): string {
  return format(
    `s${digits}`,
    { minimumSignificantDigits: Math.min(2, digits), maximumSignificantDigits: digits },
    value,
  )
}

function format(key: string, options: Intl.NumberFormatOptions, value: number): string {
  let formatter = numbers.get(key)
  if (!formatter) numbers.set(key, (formatter = new Intl.NumberFormat(undefined, options)))
  // −0.0 is 0.0 to a reader.
  return formatter
    .format(value)
    .replace(/^-(?=[0.,]*$)/, '')
    .replace('-', MINUS)
}

/** What 1 m/s² is in the display unit, and that unit's name; powers of it for area and jerk. */
export function accelerationScale(unit: AccelerationUnit): { factor: number; name: string } {
  return unit === 'mg' ? { factor: 1000 / STANDARD_GRAVITY_MS2, name: 'mg' } : { factor: 1000, name: 'mm/s²' }
}

/** Acceleration given in m/s², shown in mm/s² (m/s² from 10 m/s²) or mg. */
export function acceleration(valueMs2: number, unit: AccelerationUnit): Quantity {
  const scale = accelerationScale(unit)
  if (unit === 'si' && Math.abs(valueMs2) >= 10) return { value: decimal(valueMs2, 2), unit: 'm/s²' }
  return { value: measured(valueMs2 * scale.factor), unit: scale.name }
}

/** Ellipse area given in m²/s⁴. */
export function ellipseArea(valueM2s4: number, unit: AccelerationUnit): Quantity {
  const { factor } = accelerationScale(unit)
  return { value: measured(valueM2s4 * factor * factor), unit: unit === 'mg' ? 'mg²' : 'mm²/s⁴' }
}

/** Path rate given in m/s² per second. */
export function pathRate(valueMs3: number, unit: AccelerationUnit): Quantity {
  const scale = accelerationScale(unit)
  return { value: measured(valueMs3 * scale.factor), unit: `${scale.name} per s` }
}

/** Jerk given in m²/s⁵. */
export function jerk(valueM2s5: number, unit: AccelerationUnit): Quantity {
  if (unit === 'si') return { value: measured(valueM2s5), unit: 'm²/s⁵' }
  const { factor } = accelerationScale(unit)
  return { value: measured(valueM2s5 * factor * factor), unit: 'mg²/s' }
}

/** Below this, in the unit shown, a number would be a row of zeros that says nothing. */
const LEAST_SHOWN = 0.005

/** Three digits: more would promise what no sensor on a dog can keep. */
export function measured(value: number): string {
  if (value !== 0 && Math.abs(value) < LEAST_SHOWN) return `under ${decimal(0.01, 2)}`
  return format('m3', { minimumSignificantDigits: 3, maximumSignificantDigits: 3 }, value)
}

/** Seconds: `8.4 s` below a minute, `3 min 05 s` above. */
export function duration(valueS: number): string {
  if (valueS < 59.95) return `${decimal(valueS, 1)} s`
  const whole = Math.round(valueS)
  const hours = Math.floor(whole / 3600)
  const minutes = Math.floor(whole / 60) % 60
  const seconds = String(whole % 60).padStart(2, '0')
  return hours > 0 ? `${hours} h ${String(minutes).padStart(2, '0')} min` : `${minutes} min ${seconds} s`
}

/** Seconds a plan names, as they were written: `10 s`, `7.5 s`, `1.25 s`; a rounded one would ask for more or less. */
export function plannedSeconds(valueS: number): string {
  return `${format('planned', { maximumFractionDigits: 2 }, valueS)} s`
}

/** A clock for a running session: `0:07`, `12:30`, `1:02:30`. */
export function clock(valueS: number): string {
  const whole = Math.max(0, Math.floor(valueS))
  const hours = Math.floor(whole / 3600)
  const minutes = Math.floor(whole / 60) % 60
  const seconds = String(whole % 60).padStart(2, '0')
  return hours > 0 ? `${hours}:${String(minutes).padStart(2, '0')}:${seconds}` : `${minutes}:${seconds}`
}

export function percent(share: number): string {
  return `${decimal(share * 100, 0)} %`
}

/** A multiple such as steadiness ratio: `1.8 ×`. */
export function multiple(ratio: number): string {
  return `${ratio >= 10 ? decimal(ratio, 0) : decimal(ratio, 1)} ×`
}

const dates = new Intl.DateTimeFormat(undefined, { dateStyle: 'medium' })
const datesAndTimes = new Intl.DateTimeFormat(undefined, { dateStyle: 'medium', timeStyle: 'short' })

export const date = (iso: string) => dates.format(new Date(iso))
export const dateAndTime = (iso: string) => datesAndTimes.format(new Date(iso))

const KG_PER_LB = 0.45359237
const CM_PER_IN = 2.54

export type BodyUnits = 'metric' | 'imperial'

/** lb → kg and in → cm are exact by definition (international yard and pound, 1959). */
export const kgFrom = (value: number, units: BodyUnits) => (units === 'metric' ? value : value * KG_PER_LB)
export const cmFrom = (value: number, units: BodyUnits) => (units === 'metric' ? value : value * CM_PER_IN)

export function weight(kg: number, units: BodyUnits): string {
  return units === 'metric' ? `${significant(kg)} kg` : `${significant(kg / KG_PER_LB)} lb`
}

export function height(cm: number, units: BodyUnits): string {
  return units === 'metric' ? `${significant(cm)} cm` : `${significant(cm / CM_PER_IN)} in`
}

/** The same without a decimal that says nothing: `8 cm`, `3.1 in`. */
export function shortLength(cm: number, units: BodyUnits): string {
  const value = typedLength(cm, units)!
  return `${decimal(value, Number.isInteger(value) ? 0 : 1)} ${units === 'metric' ? 'cm' : 'in'}`
}

/** Distance between paws or surfaces, given in cm. */
export const spacing = height

/** A length in cm as a number to type in the chosen units; null stays null. */
export function typedLength(cm: number | null | undefined, units: BodyUnits): number | null {
  if (cm === null || cm === undefined) return null
  return Math.round((units === 'metric' ? cm : cm / CM_PER_IN) * 10) / 10
}

/** A weight in kg as a number to type in the chosen units; null stays null. */
export function typedWeight(kg: number | null | undefined, units: BodyUnits): number | null {
  if (kg === null || kg === undefined) return null
  return Math.round((units === 'metric' ? kg : kg / KG_PER_LB) * 10) / 10
}
