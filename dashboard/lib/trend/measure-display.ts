import type { MeasureName } from '#signal/trend/measures'
import { accelerationScale, decimal, jerk, measured } from '../format'
import type { AccelerationUnit } from '../format'

/** How the values of a measure are shown: times `factor`, in `unit`. */
export interface MeasureDisplay {
  readonly factor: number
  readonly unit: string
  /** "96.2 mm/s²" */
  readonly text: (value: number) => string
}

export function measureDisplay(measure: MeasureName, unit: AccelerationUnit): MeasureDisplay {
  const scale = accelerationScale(unit)
  switch (measure) {
    case 'swayRms':
    case 'tremorRms':
      return displayOf(scale.factor, scale.name)
    case 'pathRate':
      return displayOf(scale.factor, `${scale.name} per s`)
    case 'jerk':
      return displayOf(unit === 'si' ? 1 : scale.factor ** 2, jerk(1, unit).unit)
    case 'steadinessRatio':
      return displayOf(1, '×')
    case 'bestHoldS':
    case 'handsOffHoldS':
      return { factor: 1, unit: 's', text: (value) => `${decimal(value, 1)} s` }
    case 'supportShare':
      return { factor: 100, unit: '%', text: (value) => `${decimal(100 * value, 0)} %` }
  }
}

function displayOf(factor: number, unit: string): MeasureDisplay {
  return { factor, unit, text: (value) => `${measured(value * factor)} ${unit}` }
}

/** A change in `Trend.unit` with its sign: "−4.1 %", "+1.2 s", "+3 percentage points". */
export function changeText(change: number, unit: string): string {
  return `${signedChange(change, unit)} ${changeUnit(unit)}`
}

/** "−6.0 to −2.2 %" */
export function changeRange(low: number, high: number, unit: string): string {
  return `${signedChange(low, unit)} to ${signedChange(high, unit)} ${changeUnit(unit)}`
}

function signedChange(change: number, unit: string): string {
  const shown = unit === '1' ? 100 * change : change
  const text = decimal(shown, Math.abs(shown) < 9.95 ? 1 : 0)
  return shown > 0 && Number(decimalDigits(text)) !== 0 ? `+${text}` : text
}

const decimalDigits = (text: string) => text.replace(/\D/g, '')
const changeUnit = (unit: string) => (unit === '1' ? 'percentage points' : unit)

/** "p = 0.013", "p < 0.001" */
export function pText(p: number): string {
  return p < 0.001 ? `p < ${decimal(0.001, 3)}` : `p = ${decimal(p, p < 0.1 ? 3 : 2)}`
}
