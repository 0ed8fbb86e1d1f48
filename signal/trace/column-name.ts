import { unitOf } from './units.ts'
import type { Unit } from './units.ts'

export type AxisLetter = 'x' | 'y' | 'z'
export type Sensor = 'acc' | 'linear acc' | 'gyro' | 'bare' | 'other'

/** What a column name says. */
export interface ColumnName {
  readonly unit: Unit | null
  /** Words of the name without unit and axis, lower case. */
  readonly words: readonly string[]
  readonly axis: AxisLetter | null
  readonly sensor: Sensor
  /** Words that name neither sensor nor axis, as in the `back` of `ABack_x`: where it is worn. */
  readonly place: string
}

const ACC = new Set(['a', 'acc', 'accel', 'accelero', 'acceleration', 'accelerometer', 'accelerations'])
const GYRO = new Set([
  'g',
  'gyr',
  'gyro',
  'gyroscope',
  'w',
  'omega',
  'rot',
  'rotation',
  'rotationrate',
  'angular',
  'angvel',
])
const GYRO_FILLERS = new Set(['velocity', 'rate', 'vel', 'speed'])
const LINEAR = new Set([
  'linear',
  'lin',
  'user',
  'linacc',
  'linaccel',
  'linearacceleration',
  'useracceleration',
])
const FILLERS = new Set(['axis', 'raw', 'value', 'data', 'calibrated', 'including', 'gravity', 'sensor'])
const GLUED = /^(a|acc|accel|acceleration|accelerometer|g|gyr|gyro|gyroscope|w|omega|rot|m|mag)([xyz])$/
const OTHER = new Set([
  'm',
  'mag',
  'magn',
  'magnet',
  'magnetometer',
  'magnetic',
  'compass',
  'gravity',
  'orientation',
  'quat',
  'q',
])

/** Reads sensor, axis and unit out of a column name: `acc_x [g]`, `AccX`, `ABack_x`, `gx (rad/s)`. */
export function readColumnName(name: string): ColumnName {
  let base = name
  let unit: Unit | null = null
  const bracket = /^([^[({]*)[[({]([^\])}]*)[\])}]?\s*$/.exec(name)
  if (bracket !== null && bracket[1].trim() !== '') {
    unit = unitOf(bracket[2])
    base = bracket[1]
  }
  let words = splitWords(base)
  if (unit === null) [unit, words] = takeUnit(words, () => true)

  const [axis, rest] = takeAxis(words)
  words = rest
  if (unit === null && axis !== null)
    [unit, words] = takeUnit(words, (left) => left.some((w) => ACC.has(w) || GYRO.has(w)))
  const sensor = sensorOf(words, unit)
  const place = words
    .filter((word) => !ACC.has(word) && !GYRO.has(word) && !GYRO_FILLERS.has(word) && !FILLERS.has(word))
    .join(' ')
  return { unit, words, axis, sensor, place }
}

function splitWords(name: string): string[] {
  return name
    .replace(/([a-z0-9])([A-Z])/g, '$1 $2')
    .replace(/([A-Z])([A-Z][a-z])/g, '$1 $2')
    .toLowerCase()
    .split(/[^a-z0-9µμ°²/]+/)
    .filter((word) => word !== '')
}

/** A unit at the end of the words, when something is left before it. */
function takeUnit(words: string[], accept: (left: string[]) => boolean): [Unit | null, string[]] {
  for (let count = Math.min(3, words.length - 1); count >= 1; count--) {
    const unit = unitOf(words.slice(-count).join(''))
    const left = words.slice(0, -count)
    if (unit !== null && accept(left)) return [unit, left]
  }
  return [null, words]
}

function takeAxis(words: string[]): [AxisLetter | null, string[]] {
  const isAxis = (word: string) => word === 'x' || word === 'y' || word === 'z'
  const found = words.filter(isAxis)
  if (found.length === 1) return [found[0] as AxisLetter, words.filter((word) => !isAxis(word))]
  if (found.length > 1) return [null, words]
  const glued = words.map((word) => GLUED.exec(word))
  const at = glued.findIndex((match) => match !== null)
  if (at === -1 || glued.filter((match) => match !== null).length > 1) return [null, words]
  const [, sensor, axis] = glued[at] as RegExpExecArray
  return [axis as AxisLetter, [...words.slice(0, at), sensor, ...words.slice(at + 1)]]
}

function sensorOf(words: readonly string[], unit: Unit | null): Sensor {
  const has = (set: ReadonlySet<string>) => words.some((word) => set.has(word))
  if (unit?.kind === 'time') return 'other'
  if (words.length === 0) return unit?.kind === 'gyro' ? 'gyro' : unit?.kind === 'acc' ? 'acc' : 'bare'
  if (unit?.kind === 'gyro') return 'gyro'
  if (has(LINEAR) && !words.includes('including')) return 'linear acc'
  // "angular acceleration" is no acceleration of ours; "a" and "g" count only as the first word.
  const first = words[0]
  const saysAcc = words.some((word) => ACC.has(word) && word !== 'a') || first === 'a'
  const saysGyro =
    words.some((word) => GYRO.has(word) && word !== 'g' && word !== 'w') || first === 'g' || first === 'w'
  if (saysAcc && saysGyro && first !== 'a') return 'other'
  if (saysAcc) return 'acc'
  if (has(OTHER)) return 'other'
  if (unit?.kind === 'acc') return 'acc'
  return saysGyro ? 'gyro' : 'other'
}
