import { describe, expect, it } from 'vitest'
import { product, rotationAngleDeg, rotationFromEuler, transposed } from '#signal/simulator/rotation'
import { noiseRms } from '#signal/simulator/sensor'
import { simulateSession } from '#signal/simulator/session'
import type { Rotation, SimulatedSensor } from '#signal/simulator/script'
import { EVERYTHING, deviation, mean, scene } from './scenes.ts'

const STAND = [{ kind: 'quiet-stand', durationS: 60 }] as const

function read(sensor: SimulatedSensor) {
  return simulateSession(scene(STAND, { sensor })).trace.acc
}

describe('simulated sensor', () => {
  it('shows the dog axes through the mount: truth rotation times samples gives the dog axes back', () => {
    const mount = { rotation: { rollDeg: 118, pitchDeg: -32, yawDeg: 71 } }
    const dog = simulateSession(scene(EVERYTHING)).trace.acc
    const { trace, truth } = simulateSession(scene(EVERYTHING, { mount }))
    const [cc, ml, dv] = truth.mountRotation
    for (let i = 0; i < trace.t.length; i += 97) {
      const sensor = [trace.acc.x[i], trace.acc.y[i], trace.acc.z[i]]
      const dot = (row: readonly number[]) => row.reduce((sum, value, k) => sum + value * sensor[k], 0)
      expect(dot(cc)).toBeCloseTo(dog.x[i], 9)
      expect(dot(ml)).toBeCloseTo(dog.y[i], 9)
      expect(dot(dv)).toBeCloseTo(dog.z[i], 9)
    }
  })

  it('builds rotations that are orthonormal and turn the textbook way', () => {
    const turn = rotationFromEuler({ rollDeg: 25, pitchDeg: -70, yawDeg: 140 })
    const identity = product(turn, transposed(turn))
    identity.forEach((row, i) => row.forEach((value, k) => expect(value).toBeCloseTo(i === k ? 1 : 0, 12)))
    // A quarter turn of yaw: the sensor's x axis points to the dog's left.
    const quarter: Rotation = rotationFromEuler({ rollDeg: 0, pitchDeg: 0, yawDeg: 90 })
    expect(quarter.map((row) => row[0])).toEqual([
      expect.closeTo(0, 12),
      expect.closeTo(1, 12),
      expect.closeTo(0, 12),
    ])
    expect(rotationAngleDeg(rotationFromEuler({ rollDeg: 18, pitchDeg: 0, yawDeg: 0 }))).toBeCloseTo(18, 9)
  })

  it('slips by the scripted angle at the scripted time', () => {
    const mount = { slip: { atS: 30, turn: { rollDeg: 18, pitchDeg: 0, yawDeg: 0 } } }
    const { trace, truth } = simulateSession(scene(STAND, { mount }))
    const angle = (from: number, to: number) => {
      const [x, y, z] = [trace.acc.x, trace.acc.y, trace.acc.z].map((a) => mean(a.subarray(from, to)))
      return (Math.atan2(Math.hypot(x, y), z) * 180) / Math.PI
    }
    expect(truth.slip).toEqual({ atS: 30, angleDeg: expect.closeTo(18, 9) })
    expect(angle(0, 2900)).toBeLessThan(0.3)
    expect(Math.abs(angle(3100, 6000) - 18)).toBeLessThan(0.3)
  })

  it('adds white noise of the scripted RMS', () => {
    const clean = read({ noiseMs2: 0 })
    const noisy = read({ noiseMs2: 0.03 })
    const noise = noisy.x.map((x, i) => x - clean.x[i])
    // 6000 samples: standard error 0.9 %.
    expect(Math.abs(deviation(noise) / 0.03 - 1)).toBeLessThan(0.04)
  })

  it('turns a density into RMS by half the rate as bandwidth', () => {
    // 100 µg/√Hz over 50 Hz: 100e-6 · 9.80665 · √50.
    expect(noiseRms(100, 100)).toBeCloseTo(0.0069343, 6)
  })

  it('adds bias and gain error, clips at the range and counts in steps', () => {
    const clean = read({ noiseMs2: 0 })
    const wrong = read({ noiseMs2: 0, biasMs2: [0.1, 0, -0.2], scaleError: [0, 0, 0.02] })
    expect(wrong.x[100]).toBeCloseTo(clean.x[100] + 0.1, 9)
    expect(wrong.z[100]).toBeCloseTo(clean.z[100] * 1.02 - 0.2, 9)
    const clipped = simulateSession(scene(EVERYTHING, { sensor: { noiseMs2: 0, rangeMs2: 10 } })).trace.acc
    expect(Math.max(...clipped.z)).toBe(10)
    const counted = read({ noiseMs2: 0.02, stepMs2: 0.1 })
    for (let i = 0; i < 100; i++) expect(counted.x[i] * 10).toBeCloseTo(Math.round(counted.x[i] * 10), 9)
  })

  it('moves sampling instants by jitter of the scripted size', () => {
    const { t } = simulateSession(scene(STAND, { clock: { jitterS: 0.001 } })).trace
    const off = t.map((tS, i) => tS - i / 100)
    expect(Math.abs(deviation(off) / 0.001 - 1)).toBeLessThan(0.05)
  })
})
