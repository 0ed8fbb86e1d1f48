import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  angleDeg,
  compose,
  IDENTITY,
  norm,
  rotate,
  rotationToVertical,
  toDogAxes,
  unit,
} from '#signal/mount/rotation'
import type { Rotation } from '#signal/mount/rotation'
import { rotationFromEuler } from '#signal/simulator/rotation'

const component = fc.double({ min: -20, max: 20, noNaN: true })
const vector = fc.tuple(component, component, component).filter((v) => norm(v) > 1e-3)

function determinant([a, b, c]: Rotation): number {
  return (
    a[0] * (b[1] * c[2] - b[2] * c[1]) -
    a[1] * (b[0] * c[2] - b[2] * c[0]) +
    a[2] * (b[0] * c[1] - b[1] * c[0])
  )
}

/** Angle of a rotation about its axis, degrees, from its trace: 1 + 2·cos. */
function turnDeg(r: Rotation): number {
  const cosine = (r[0][0] + r[1][1] + r[2][2] - 1) / 2
  return (Math.acos(Math.max(-1, Math.min(1, cosine))) * 180) / Math.PI
}

function expectRotation(r: Rotation): void {
  for (let i = 0; i < 3; i++) {
    for (let j = 0; j < 3; j++) {
      const dot = r[i][0] * r[j][0] + r[i][1] * r[j][1] + r[i][2] * r[j][2]
      expect(Math.abs(dot - (i === j ? 1 : 0))).toBeLessThan(1e-6)
    }
  }
  expect(Math.abs(determinant(r) - 1)).toBeLessThan(1e-6)
}

describe('rotationToVertical', () => {
  it('is a proper rotation that takes the vector to +DV and keeps its length', () => {
    fc.assert(
      fc.property(vector, (up) => {
        const r = rotationToVertical(up)
        expectRotation(r)
        const [cc, ml, dv] = rotate(r, up)
        expect(Math.hypot(cc, ml)).toBeLessThan(1e-5 * norm(up))
        expect(dv / norm(up)).toBeCloseTo(1, 6)
      }),
      { seed: 1, numRuns: 300 },
    )
  })

  it('turns by no more than the angle between the vector and the third axis', () => {
    fc.assert(
      fc.property(vector, (up) => {
        expect(Math.abs(turnDeg(rotationToVertical(up)) - angleDeg(up, [0, 0, 1]))).toBeLessThan(0.01)
      }),
      { seed: 2, numRuns: 300 },
    )
  })

  it('does nothing to an upright sensor and half a turn to one exactly upside down', () => {
    expect(rotationToVertical([0, 0, 9.8])).toEqual(
      IDENTITY.map((row) => row.map((v) => expect.closeTo(v, 12))),
    )
    const r = rotationToVertical([0, 0, -9.8])
    expectRotation(r)
    expect(rotate(r, [0, 0, -9.8])[2]).toBeCloseTo(9.8, 9)
  })

  it('stays a rotation next to upside down, where the formula divides by little', () => {
    for (const tilt of [1e-3, 1e-5, 1e-6, 1e-7, 1e-9]) {
      const r = rotationToVertical([tilt, tilt / 2, -1])
      expectRotation(r)
      expect(rotate(r, unit([tilt, tilt / 2, -1]))[2]).toBeCloseTo(1, 6)
    }
  })

  it('refuses the zero vector', () => {
    expect(() => rotationToVertical([0, 0, 0])).toThrow(RangeError)
  })
})

describe('angleDeg', () => {
  it('is right for small angles, right angles and opposite vectors', () => {
    // 1e-6 rad: the arc cosine of the scaled dot product would give 0 or 1e-8.
    expect(angleDeg([1, 0, 0], [1, 1e-6, 0])).toBeCloseTo((1e-6 * 180) / Math.PI, 12)
    expect(angleDeg([2, 0, 0], [0, 0, 5])).toBeCloseTo(90, 12)
    expect(angleDeg([0, 3, 0], [0, -1, 0])).toBeCloseTo(180, 12)
  })

  it('is unchanged when both vectors are turned', () => {
    fc.assert(
      fc.property(vector, vector, vector, (a, b, up) => {
        const r = rotationToVertical(up)
        expect(Math.abs(angleDeg(rotate(r, a), rotate(r, b)) - angleDeg(a, b))).toBeLessThan(1e-4)
      }),
      { seed: 3 },
    )
  })
})

describe('compose', () => {
  it('applies the second argument first', () => {
    const a = rotationFromEuler({ rollDeg: 10, pitchDeg: 20, yawDeg: 30 })
    const b = rotationFromEuler({ rollDeg: -50, pitchDeg: 5, yawDeg: 100 })
    const v = [1, -2, 3]
    rotate(compose(a, b), v).forEach((value, i) => expect(value).toBeCloseTo(rotate(a, rotate(b, v))[i], 12))
  })
})

describe('toDogAxes', () => {
  it('turns a series sample by sample into CC, ML and DV', () => {
    const r = rotationFromEuler({ rollDeg: 10, pitchDeg: 20, yawDeg: 30 })
    const series = { x: Float64Array.of(1, 4), y: Float64Array.of(2, 5), z: Float64Array.of(3, 6) }
    const { cc, ml, dv } = toDogAxes(r, series)
    expect([cc[1], ml[1], dv[1]]).toEqual(rotate(r, [4, 5, 6]))
    expect(cc).toHaveLength(2)
  })
})
