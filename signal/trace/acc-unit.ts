import { ACC_FACTOR } from './units.ts'
import { STANDARD_GRAVITY_MS2 } from '../constants.ts'
import { median } from './median.ts'
import { TraceError } from './trace-error.ts'
import type { AccUnit } from './units.ts'

/** A median norm this close to gravity in some unit names that unit (signal definitions, §1). */
const UNIT_TOLERANCE = 0.15
/** A stated unit is doubted when the median norm lies outside this range of gravity. */
const DOUBT: readonly [number, number] = [0.5, 2]

const UNITS: readonly AccUnit[] = ['g', 'm/s2', 'mg']

export interface FoundAccUnit {
  readonly unit: AccUnit
  readonly basis: 'option' | 'header' | 'median norm'
  readonly notes: readonly string[]
}

/**
 * The unit of the acceleration: as stated, else the one in which the median of |a| is gravity
 * within 15 % (1 g, 9.80665 m/s², 1000 mg: at rest an accelerometer reads gravity, and a dog
 * stands most of the time).
 *
 * @throws {TraceError} UNKNOWN_UNIT when nothing states it and gravity is not found;
 *   UNIT_CONTRADICTION when the header's unit is far off and another one fits
 */
export function findAccUnit(
  acc: readonly Float64Array[],
  stated: { option?: AccUnit; header?: AccUnit },
): FoundAccUnit {
  const norm = medianNorm(acc)
  const fitting = UNITS.find((unit) => Math.abs(inGravities(norm, unit) - 1) <= UNIT_TOLERANCE)
  const unit = stated.option ?? stated.header
  const shown = Number(norm.toPrecision(5))
  if (unit === undefined) {
    if (fitting !== undefined) return { unit: fitting, basis: 'median norm', notes: [] }
    throw new TraceError(
      'UNKNOWN_UNIT',
      `the unit is unknown: the median norm of the acceleration is ${shown}, which is gravity neither in g (1), ` +
        `m/s² (9.81) nor mg (1000)`,
      'Say the unit: g, mg or m/s2. If gravity was removed from the data, export it with gravity.',
    )
  }
  const basis = stated.option === undefined ? 'header' : 'option'
  const gravities = inGravities(norm, unit)
  if (gravities >= DOUBT[0] && gravities <= DOUBT[1]) return { unit, basis, notes: [] }
  const said = basis === 'option' ? `the unit was given as ${unit}` : `the header says ${unit}`
  // A header may be wrong by the hand of an exporter; a person who gives the unit is believed, and told.
  if (fitting !== undefined && basis === 'header') {
    throw new TraceError(
      'UNIT_CONTRADICTION',
      `${said}, but the median norm of the acceleration is ${shown}, which is gravity in ${fitting}`,
      `Say the unit, ${fitting} (or ${unit} if the header is right), or correct the header.`,
    )
  }
  const why =
    fitting !== undefined
      ? `That would be gravity in ${fitting}.`
      : gravities < DOUBT[0]
        ? 'Gravity seems to have been removed; which way is up cannot be found.'
        : 'Check the unit and the range of the sensor.'
  return {
    unit,
    basis,
    notes: [
      `The median norm of the acceleration is ${shown} ${unit}, ${Number(gravities.toPrecision(3))} times gravity, ` +
        `although ${said}. ${why}`,
    ],
  }
}

function inGravities(norm: number, unit: AccUnit): number {
  return (norm * ACC_FACTOR[unit]) / STANDARD_GRAVITY_MS2
}

function medianNorm([x, y, z]: readonly Float64Array[]): number {
  return median(x.map((value, i) => Math.sqrt(value * value + y[i] * y[i] + z[i] * z[i])))
}
