import type { EulerDeg, Rotation } from './script.ts'

export const IDENTITY: Rotation = [
  [1, 0, 0],
  [0, 1, 0],
  [0, 0, 1],
]

/** Matrix product a·b of two 3×3 matrices given by rows. */
export function product(a: Rotation, b: Rotation): Rotation {
  const cell = (row: number, column: number): number =>
    a[row][0] * b[0][column] + a[row][1] * b[1][column] + a[row][2] * b[2][column]
  return [
    [cell(0, 0), cell(0, 1), cell(0, 2)],
    [cell(1, 0), cell(1, 1), cell(1, 2)],
    [cell(2, 0), cell(2, 1), cell(2, 2)],
  ]
}

/** The transpose; of a rotation, its inverse. */
export function transposed(m: Rotation): Rotation {
  return [
    [m[0][0], m[1][0], m[2][0]],
    [m[0][1], m[1][1], m[2][1]],
    [m[0][2], m[1][2], m[2][2]],
  ]
}

/** Rotation of a sensor turned by yaw about DV, then pitch about ML, then roll about CC: dog = R · sensor. */
export function rotationFromEuler({ rollDeg, pitchDeg, yawDeg }: EulerDeg): Rotation {
  const [sr, cr] = sineCosine(rollDeg)
  const [sp, cp] = sineCosine(pitchDeg)
  const [sy, cy] = sineCosine(yawDeg)
  return [
    [cy * cp, cy * sp * sr - sy * cr, cy * sp * cr + sy * sr],
    [sy * cp, sy * sp * sr + cy * cr, sy * sp * cr - cy * sr],
    [-sp, cp * sr, cp * cr],
  ]
}

/** Angle of a rotation about its own axis, degrees, 0 to 180. */
export function rotationAngleDeg(m: Rotation): number {
  const cosine = (m[0][0] + m[1][1] + m[2][2] - 1) / 2
  return (Math.acos(Math.min(1, Math.max(-1, cosine))) * 180) / Math.PI
}

function sineCosine(deg: number): [number, number] {
  return [Math.sin((deg * Math.PI) / 180), Math.cos((deg * Math.PI) / 180)]
}
