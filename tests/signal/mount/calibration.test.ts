import { describe, expect, test } from 'vitest'
import {
  applyCalibration,
  autoCalibrate,
  fitSphere,
  sixPositionCheck,
  stillMeansG,
} from '../../../signal/mount/calibration.ts'
import { createRandom } from '../../../signal/simulator/random.ts'
import type { Row3 } from '../../../signal/report-types.ts'
import type { UniformTrace } from '../../../signal/trace/trace.ts'

const G = 9.80665
const RATE_HZ = 50

/** A sensor that lies 10 s in each direction, then shows zero, gain and noise of its own. */
function lying(
  directions: readonly Row3[],
  sensor: { zeroG: Row3; gain: Row3; noiseMs2?: number },
): UniformTrace {
  const random = createRandom('lying')
  const n = 10 * RATE_HZ * directions.length
  const axis = (k: 0 | 1 | 2) =>
    Float64Array.from({ length: n }, (_, i) => {
      const direction = directions[Math.floor(i / (10 * RATE_HZ))]
      const g = direction[k] / Math.hypot(...direction)
      return (g * sensor.gain[k] + sensor.zeroG[k]) * G + (sensor.noiseMs2 ?? 0.02) * random.normal()
    })
  return { rateHz: RATE_HZ, stretches: [{ startS: 0, acc: { x: axis(0), y: axis(1), z: axis(2) } }] }
}

function directions(count: number): Row3[] {
  const random = createRandom('directions')
  return Array.from({ length: count }, () => [random.normal(), random.normal(), random.normal()])
}

const SENSOR = { zeroG: [0.03, -0.02, 0.015] as Row3, gain: [1.02, 0.985, 1.01] as Row3 }

describe('autoCalibrate', () => {
  test('finds zero and gain of a sensor that lay about, and puts |a| right', () => {
    const trace = lying(directions(40), SENSOR)
    const { calibration } = autoCalibrate(trace)
    // Noise of 0.02 m/s² in a mean of 500 samples is 0.09 mg; the capped weights cost some 0.1 mg.
    calibration!.offsetG.forEach((value, k) => expect(Math.abs(value + SENSOR.zeroG[k])).toBeLessThan(5e-4))
    calibration!.scale.forEach((value, k) => expect(Math.abs(value * SENSOR.gain[k] - 1)).toBeLessThan(5e-4))
    const [{ acc }] = trace.stretches
    const put = applyCalibration(acc, calibration!)
    const worst = (one: typeof acc) =>
      stillMeansG({ ...trace, stretches: [{ startS: 0, acc: one }] })
        .map((mean) => Math.abs(Math.hypot(...mean) - 1))
        .reduce((a, b) => Math.max(a, b))
    expect(worst(acc)).toBeGreaterThan(0.02)
    expect(worst(put)).toBeLessThan(5e-4)
  })

  test('a sensor that is right stays as it is', () => {
    const perfect = lying(directions(40), { zeroG: [0, 0, 0], gain: [1, 1, 1], noiseMs2: 0.01 })
    const fit = fitSphere(stillMeansG(perfect))!
    expect(Math.max(...fit.offsetG.map(Math.abs))).toBeLessThan(2e-4)
  })

  test.each<[string, UniformTrace, string]>([
    [
      'a standing dog',
      lying(
        Array.from({ length: 30 }, (_, i): Row3 => [0.02 * Math.sin(i), 0.1, 1]),
        SENSOR,
      ),
      'never rested with +x, −x, +y, −y, −z',
    ],
    ['too little stillness', lying(directions(9), SENSOR), '9 still stretches of 10 s; at least 10'],
    [
      'a sensor that moves all the time',
      lying(directions(40), { ...SENSOR, noiseMs2: 0.2 }),
      '0 still stretches',
    ],
    [
      'one side missing',
      lying(
        directions(60).map(([x, y, z]): Row3 => [x, y, Math.abs(z)]),
        SENSOR,
      ),
      'never rested with −z',
    ],
  ])('%s gives no calibration, and says why', (_, trace, words) => {
    const { calibration, reason } = autoCalibrate(trace)
    expect(calibration).toBeNull()
    expect(reason).toContain(words)
  })

  test('points that lie on no sphere of gravity are refused', () => {
    const random = createRandom('no sphere')
    const n = 60 * 10 * RATE_HZ
    const levels = directions(60).map((row) => row.map((value) => value * random.uniform(0.3, 0.9)))
    const axis = (k: number) =>
      Float64Array.from(
        { length: n },
        (_, i) => G * Math.max(-1.9, Math.min(1.9, levels[Math.floor(i / 500)][k])),
      )
    const trace = { rateHz: RATE_HZ, stretches: [{ startS: 0, acc: { x: axis(0), y: axis(1), z: axis(2) } }] }
    const { calibration, reason } = autoCalibrate(trace)
    expect(calibration).toBeNull()
    expect(reason).toMatch(/the error (stays at|does not fall)|beyond those of any sound sensor/)
  })

  test('windows do not cross gaps', () => {
    const { stretches, rateHz } = lying(directions(1), SENSOR)
    const half = {
      x: stretches[0].acc.x.subarray(250),
      y: stretches[0].acc.y.subarray(250),
      z: stretches[0].acc.z.subarray(250),
    }
    const parts = [0, 9].map((startS) => ({ startS, acc: half }))
    expect(stillMeansG({ rateHz, stretches: parts })).toEqual([])
  })

  test('points without spread fit no sphere', () => {
    expect(fitSphere(Array.from({ length: 20 }, (): Row3 => [0, 0, 1]))).toBeNull()
    expect(fitSphere(Array.from({ length: 20 }, (): Row3 => [0, 0, 0]))).toBeNull()
  })
})

describe('sixPositionCheck', () => {
  const up = (k: number, sign: number, tiltDeg = 0): Row3 => {
    const tilt = (tiltDeg * Math.PI) / 180
    const truth = [0, 1, 2].map((axis) =>
      axis === k ? sign * Math.cos(tilt) : axis === (k + 1) % 3 ? Math.sin(tilt) : 0,
    )
    return truth.map((value, axis) => (value * SENSOR.gain[axis] + SENSOR.zeroG[axis]) * G) as Row3
  }
  const all = [0, 1, 2].flatMap((k) => [up(k, -1), up(k, 1)])

  test('finds zero and gain in any order of positions, and its calibration undoes them', () => {
    const { calibration } = sixPositionCheck([...all].reverse())
    calibration!.zeroG.forEach((value, k) => expect(value).toBeCloseTo(SENSOR.zeroG[k], 12))
    calibration!.gain.forEach((value, k) => expect(value).toBeCloseTo(SENSOR.gain[k], 12))
    const one = {
      x: Float64Array.of(all[5][0]),
      y: Float64Array.of(all[5][1]),
      z: Float64Array.of(all[5][2]),
    }
    expect(applyCalibration(one, calibration!).z[0]).toBeCloseTo(G, 12)
  })

  test.each<[string, Row3[], string]>([
    ['a position missing', all.slice(1), 'no position has −x up'],
    ['a position twice', [...all, all[0]], 'two positions have −x up'],
    ['a sensor on its edge', [...all.slice(1), up(0, -1, 40)], 'no axis points up or down'],
  ])('%s gives none, and says why', (_, rests, words) => {
    expect(sixPositionCheck(rests)).toEqual({ calibration: null, reason: expect.stringContaining(words) })
  })
})
