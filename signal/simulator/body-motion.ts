import { STANDARD_GRAVITY_MS2 } from '../constants.ts'

/** Rate of the grid on which the body moves before the sensor samples it; content stays below 40 Hz. */
export const BODY_RATE_HZ = 400

/** Motion of the trunk on the body grid, each of shape (n). Axes are level and follow the heading. */
export interface BodyMotion {
  readonly n: number
  /** About ML, rad; positive is nose down (right-handed about the axis to the left). */
  readonly pitch: Float64Array
  /** About CC, rad; positive is left side up. */
  readonly roll: Float64Array
  /** About DV, rad; positive turns to the left. */
  readonly yaw: Float64Array
  /** Displacement of the sensor's place on the trunk, m. */
  readonly displacement: AxisArrays
  /** Acceleration added to that of the displacement, m/s². */
  readonly acceleration: AxisArrays
}

export interface AxisArrays {
  readonly cc: Float64Array
  readonly ml: Float64Array
  readonly dv: Float64Array
}

export function createAxisArrays(n: number): AxisArrays {
  return { cc: new Float64Array(n), ml: new Float64Array(n), dv: new Float64Array(n) }
}

export function createBodyMotion(durationS: number): BodyMotion {
  const n = Math.ceil(durationS * BODY_RATE_HZ) + 1
  return {
    n,
    pitch: new Float64Array(n),
    roll: new Float64Array(n),
    yaw: new Float64Array(n),
    displacement: createAxisArrays(n),
    acceleration: createAxisArrays(n),
  }
}

/**
 * Specific force in m/s² that an ideal accelerometer fixed to the trunk shows, in trunk axes:
 * Rᵀ·(a + g·e_up) with R = R_ML(pitch)·R_CC(roll), so gravity always agrees with the tilt.
 */
export function specificForce(motion: BodyMotion): AxisArrays {
  const { n, pitch, roll, acceleration } = motion
  const cc = secondDerivative(motion.displacement.cc)
  const ml = secondDerivative(motion.displacement.ml)
  const dv = secondDerivative(motion.displacement.dv)
  for (let i = 0; i < n; i++) {
    const x = cc[i] + acceleration.cc[i]
    const y = ml[i] + acceleration.ml[i]
    const z = dv[i] + acceleration.dv[i] + STANDARD_GRAVITY_MS2
    const sp = Math.sin(pitch[i])
    const cp = Math.cos(pitch[i])
    const sr = Math.sin(roll[i])
    const cr = Math.cos(roll[i])
    const tilted = x * sp + z * cp
    cc[i] = x * cp - z * sp
    ml[i] = y * cr + tilted * sr
    dv[i] = tilted * cr - y * sr
  }
  return { cc, ml, dv }
}

/** Angular rate of the trunk in its own axes, rad/s, from the rates of yaw, pitch and roll (z-y-x order). */
export function angularRate(motion: BodyMotion): AxisArrays {
  const { n, pitch, roll } = motion
  const cc = firstDerivative(roll)
  const ml = firstDerivative(pitch)
  const dv = firstDerivative(motion.yaw)
  for (let i = 0; i < n; i++) {
    const sr = Math.sin(roll[i])
    const cr = Math.cos(roll[i])
    const cp = Math.cos(pitch[i])
    const pitchRate = ml[i]
    const yawRate = dv[i]
    cc[i] -= yawRate * Math.sin(pitch[i])
    ml[i] = pitchRate * cr + yawRate * cp * sr
    dv[i] = yawRate * cp * cr - pitchRate * sr
  }
  return { cc, ml, dv }
}

function firstDerivative(x: Float64Array): Float64Array {
  const out = new Float64Array(x.length)
  for (let i = 1; i < x.length - 1; i++) out[i] = ((x[i + 1] - x[i - 1]) * BODY_RATE_HZ) / 2
  out[0] = out[1]
  out[x.length - 1] = out[x.length - 2]
  return out
}

function secondDerivative(x: Float64Array): Float64Array {
  const out = new Float64Array(x.length)
  for (let i = 1; i < x.length - 1; i++) out[i] = (x[i + 1] - 2 * x[i] + x[i - 1]) * BODY_RATE_HZ ** 2
  out[0] = out[1]
  out[x.length - 1] = out[x.length - 2]
  return out
}
