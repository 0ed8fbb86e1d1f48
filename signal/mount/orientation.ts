import { sampleCount } from '../sway/dog-axes.ts'
import type { DogAxes } from '../sway/dog-axes.ts'

/** Posture of the trunk over time, degrees, each shape (n). */
export interface TrunkOrientation {
  /** Nose up is positive. */
  readonly pitchDeg: Float64Array
  /** Left side up is positive. */
  readonly rollDeg: Float64Array
}

/** A rate of turn per dog axis, rad/s. */
export interface AxisRates {
  readonly cc: number
  readonly ml: number
  readonly dv: number
}

export interface OrientationOptions {
  /** What the gyroscope shows at rest (`restingRates`); default 0. */
  readonly biasRadS?: AxisRates
  /**
   * How fast the posture follows the accelerometer (kP), 1/s; default 0.3, a corner at 0.05 Hz: well below
   * the sway of a trunk (0.2 Hz and up), whose acceleration would be read as tilt.
   */
  readonly gainPerS?: number
  /** How fast the rest of the bias is learnt (kI), 1/s²; default 0.01, aperiodic with the default gain. */
  readonly biasGainPerS2?: number
}

type Vector = [number, number, number]

/** The first posture is found by running back over this many time constants 1/kP. */
const SETTLING_CONSTANTS = 5
const DEG_PER_RAD = 180 / Math.PI

/**
 * Pitch and roll of the trunk from accelerometer and gyroscope: the explicit complementary filter of Mahony,
 * Hamel & Pflimlin 2008 (Nonlinear complementary filters on the special orthogonal group, IEEE Trans. Autom.
 * Control 53:1203–1218; equations from memory), kept to the direction of up, since yaw is not observed:
 *
 *     e = v × v̂,   v̂' = −(ω − b + kP·e) × v̂,   b' = −kI·e
 *
 * with v the measured direction of the specific force and v̂ the estimate, turned exactly from sample to
 * sample. The filter first runs back from 5/kP after the start, so that the first posture is settled.
 * Slow turns come from gravity, fast ones from the gyroscope; at a constant reading it is exact.
 *
 * @param acc specific force in dog axes, m/s², shape (n)
 * @param gyr rate of turn in dog axes, rad/s, right-handed, shape (n)
 * @throws {TypeError} when the series differ in length
 * @throws {RangeError} when rateHz or gainPerS is not positive, or biasGainPerS2 is negative
 */
export function trunkOrientation(
  acc: DogAxes,
  gyr: DogAxes,
  rateHz: number,
  options: OrientationOptions = {},
): TrunkOrientation {
  const { biasRadS = { cc: 0, ml: 0, dv: 0 }, gainPerS = 0.3, biasGainPerS2 = 0.01 } = options
  const n = sampleCount(acc)
  if (sampleCount(gyr) !== n) {
    throw new TypeError(
      `trunkOrientation requires as many rates as accelerations, got ${gyr.cc.length} and ${n}`,
    )
  }
  if (!(rateHz > 0)) throw new RangeError(`trunkOrientation requires rateHz > 0, got ${rateHz}`)
  if (!(gainPerS > 0)) throw new RangeError(`trunkOrientation requires gainPerS > 0, got ${gainPerS}`)
  if (!(biasGainPerS2 >= 0)) {
    throw new RangeError(`trunkOrientation requires biasGainPerS2 >= 0, got ${biasGainPerS2}`)
  }
  const orientation = { pitchDeg: new Float64Array(n), rollDeg: new Float64Array(n) }
  if (n === 0) return orientation
  const direction = (i: number): Vector | null => unit([acc.cc[i], acc.ml[i], acc.dv[i]])
  const bias: Vector = [biasRadS.cc, biasRadS.ml, biasRadS.dv]
  /** The up direction at sample `to`, given that at the neighbouring sample `from`. */
  const step = (up: Vector, from: number, to: number, learnsBias: boolean): Vector => {
    const dtS = (to - from) / rateHz
    const measured = direction(from)
    const error: Vector = measured === null ? [0, 0, 0] : cross(measured, up)
    // Backward in time the error must still be pulled in.
    const gain = gainPerS * Math.sign(dtS)
    const turn = [
      ((gyr.cc[from] + gyr.cc[to]) / 2 - bias[0] + gain * error[0]) * dtS,
      ((gyr.ml[from] + gyr.ml[to]) / 2 - bias[1] + gain * error[1]) * dtS,
      ((gyr.dv[from] + gyr.dv[to]) / 2 - bias[2] + gain * error[2]) * dtS,
    ] as Vector
    if (learnsBias) for (const k of [0, 1, 2]) bias[k] -= biasGainPerS2 * error[k] * dtS
    return rotated(up, [-turn[0], -turn[1], -turn[2]])
  }
  const settled = Math.min(n - 1, Math.ceil((SETTLING_CONSTANTS / gainPerS) * rateHz))
  let up: Vector = direction(settled) ?? [0, 0, 1]
  for (let i = settled; i > 0; i--) up = step(up, i, i - 1, false)
  for (let i = 0; i < n; i++) {
    if (i > 0) up = step(up, i - 1, i, true)
    orientation.pitchDeg[i] = Math.atan2(up[0], Math.hypot(up[1], up[2])) * DEG_PER_RAD
    orientation.rollDeg[i] = Math.atan2(up[1], up[2]) * DEG_PER_RAD
  }
  return orientation
}

/**
 * What the gyroscope shows over the reference stand, samples [from, to): a standing trunk comes back to where
 * it was, so that the mean rate is the bias.
 *
 * @throws {RangeError} when the interval holds no sample or goes beyond the series
 */
export function restingRates(gyr: DogAxes, from: number, to: number): AxisRates {
  requireInterval('restingRates', from, to, sampleCount(gyr))
  return { cc: mean(gyr.cc, from, to), ml: mean(gyr.ml, from, to), dv: mean(gyr.dv, from, to) }
}

/**
 * Sway as angles over samples [from, to): RMS of pitch and roll about their own means (ddof 0), degrees.
 *
 * @throws {RangeError} when the interval holds no sample or goes beyond the series
 */
export function swayDegrees(
  { pitchDeg, rollDeg }: TrunkOrientation,
  from: number,
  to: number,
): { pitchRmsDeg: number; rollRmsDeg: number } {
  requireInterval('swayDegrees', from, to, pitchDeg.length)
  const rms = (angles: Float64Array): number => {
    const middle = mean(angles, from, to)
    return Math.sqrt(
      mean(
        angles.map((angle) => (angle - middle) ** 2),
        from,
        to,
      ),
    )
  }
  return { pitchRmsDeg: rms(pitchDeg), rollRmsDeg: rms(rollDeg) }
}

function requireInterval(what: string, from: number, to: number, n: number): void {
  if (Number.isInteger(from) && Number.isInteger(to) && from >= 0 && to > from && to <= n) return
  throw new RangeError(`${what} requires 0 <= from < to <= ${n} (whole), got ${from} and ${to}`)
}

function mean(values: Float64Array, from: number, to: number): number {
  let sum = 0
  for (let i = from; i < to; i++) sum += values[i]
  return sum / (to - from)
}

function unit(v: Vector): Vector | null {
  const length = Math.hypot(...v)
  return length > 0 ? [v[0] / length, v[1] / length, v[2] / length] : null
}

function cross(a: Vector, b: Vector): Vector {
  return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

/** v turned by the rotation vector w, rad (Rodrigues), and put back to length 1. */
function rotated(v: Vector, w: Vector): Vector {
  const angle = Math.hypot(...w)
  if (angle === 0) return v
  const axis: Vector = [w[0] / angle, w[1] / angle, w[2] / angle]
  const sine = Math.sin(angle)
  const cosine = Math.cos(angle)
  const across = cross(axis, v)
  const along = (axis[0] * v[0] + axis[1] * v[1] + axis[2] * v[2]) * (1 - cosine)
  const turned = v.map((value, k) => value * cosine + across[k] * sine + axis[k] * along) as Vector
  return unit(turned) ?? v
}
