import type { Row3 } from '../report-types.ts'
import type { DogAxes } from '../sway/dog-axes.ts'
import type { Vector3Series } from '../trace/trace.ts'

/** Rows CC, ML, DV in sensor axes: dog = rotation · sensor. */
export type Rotation = readonly [Row3, Row3, Row3]

export const IDENTITY: Rotation = [
  [1, 0, 0],
  [0, 1, 0],
  [0, 0, 1],
]

/** Length of a vector. */
export function norm(v: readonly number[]): number {
  return Math.hypot(v[0], v[1], v[2])
}

/** The vector scaled to length 1. @throws {RangeError} for the zero vector */
export function unit(v: readonly number[]): Row3 {
  const length = norm(v)
  if (!(length > 0)) throw new RangeError('unit requires a vector that is not zero')
  return [v[0] / length, v[1] / length, v[2] / length]
}

/** Angle between two vectors, degrees, 0..180; accurate for small angles too. */
export function angleDeg(a: readonly number[], b: readonly number[]): number {
  const cross = Math.hypot(a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])
  return (Math.atan2(cross, a[0] * b[0] + a[1] * b[1] + a[2] * b[2]) * 180) / Math.PI
}

/**
 * The smallest rotation that takes `up` to the third axis: Rodrigues' formula
 * R = I + [w]× + [w]×²/(1 + c) with w = û × e₃ and c = û·e₃ (methods of vector rotation, any text
 * on rigid-body kinematics). The tilt correction of trunk accelerometry (Moe-Nilssen 1998) without
 * its small-angle step. For û opposite to e₃ the half turn about the first axis is taken.
 */
export function rotationToVertical(up: readonly number[]): Rotation {
  const [x, y, z] = unit(up)
  if (z < -1 + 1e-12) {
    return [
      [1, 0, 0],
      [0, -1, 0],
      [0, 0, -1],
    ]
  }
  const k = 1 / (1 + z)
  return [
    [1 - k * x * x, -k * x * y, -x],
    [-k * x * y, 1 - k * y * y, -y],
    [x, y, z],
  ]
}

/** Product a·b of two rotations (b is applied first). */
export function compose(a: Rotation, b: Rotation): Rotation {
  const row = (r: Row3): Row3 => [
    r[0] * b[0][0] + r[1] * b[1][0] + r[2] * b[2][0],
    r[0] * b[0][1] + r[1] * b[1][1] + r[2] * b[2][1],
    r[0] * b[0][2] + r[1] * b[1][2] + r[2] * b[2][2],
  ]
  return [row(a[0]), row(a[1]), row(a[2])]
}

/** rotation · v for one vector. */
export function rotate(rotation: Rotation, v: readonly number[]): Row3 {
  const dot = (r: Row3) => r[0] * v[0] + r[1] * v[1] + r[2] * v[2]
  return [dot(rotation[0]), dot(rotation[1]), dot(rotation[2])]
}

/** A whole series into dog axes; new arrays of the same length. */
export function toDogAxes(rotation: Rotation, series: Vector3Series): DogAxes {
  const n = series.x.length
  const axes = { cc: new Float64Array(n), ml: new Float64Array(n), dv: new Float64Array(n) }
  const [[c0, c1, c2], [m0, m1, m2], [d0, d1, d2]] = rotation
  for (let i = 0; i < n; i++) {
    const x = series.x[i]
    const y = series.y[i]
    const z = series.z[i]
    axes.cc[i] = c0 * x + c1 * y + c2 * z
    axes.ml[i] = m0 * x + m1 * y + m2 * z
    axes.dv[i] = d0 * x + d1 * y + d2 * z
  }
  return axes
}
