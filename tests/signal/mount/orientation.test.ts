import { describe, expect, test } from 'vitest'
import {
  accelerometerReading,
  gyroscopeReading,
  mountedSamples,
  mountRotation,
  sampleBody,
  samplingInstants,
} from '../../../signal/simulator/sensor.ts'
import {
  angularRate,
  BODY_RATE_HZ,
  createBodyMotion,
  specificForce,
} from '../../../signal/simulator/body-motion.ts'
import { createRandom } from '../../../signal/simulator/random.ts'
import { restingRates, swayDegrees, trunkOrientation } from '../../../signal/mount/orientation.ts'
import { toDogAxes } from '../../../signal/mount/rotation.ts'
import type { BodyMotion } from '../../../signal/simulator/body-motion.ts'
import type { Row } from '../../../signal/simulator/script.ts'

const RATE_HZ = 100
const RAD = Math.PI / 180
const BIAS: Row = [0.02, -0.015, 0.01]

const constant = (n: number, cc: number, ml: number, dv: number) => ({
  cc: new Float64Array(n).fill(cc),
  ml: new Float64Array(n).fill(ml),
  dv: new Float64Array(n).fill(dv),
})
const still = (n: number) => constant(n, 0, 0, 0)

/** Motion set at every instant of the body grid. */
function moving(durationS: number, set: (motion: BodyMotion, i: number, tS: number) => void): BodyMotion {
  const motion = createBodyMotion(durationS)
  for (let i = 0; i < motion.n; i++) set(motion, i, i / BODY_RATE_HZ)
  return motion
}

/** What a mounted sensor shows of a motion, turned back into dog axes, with the true angles. */
function recorded(motion: BodyMotion, seed: string, biasRadS: Row = BIAS) {
  const random = createRandom(seed)
  const durationS = (motion.n - 1) / BODY_RATE_HZ
  const instants = samplingInstants(durationS, RATE_HZ, 0, random)
  const mount = { rotation: { rollDeg: 4, pitchDeg: -6, yawDeg: 20 } }
  const sensor = { noiseMs2: 0.03, gyroscope: true, gyroscopeNoiseRadS: 0.003, gyroscopeBiasRadS: biasRadS }
  const seen = (of: typeof specificForce) =>
    mountedSamples(sampleBody(of(motion), instants, RATE_HZ), instants, mount)
  const rotation = mountRotation(mount)
  const acc = toDogAxes(rotation, accelerometerReading(seen(specificForce), sensor, random.split('acc')))
  const gyr = toDogAxes(rotation, gyroscopeReading(seen(angularRate), sensor, random.split('gyr')))
  const at = (angles: Float64Array, sign: number) =>
    instants.map((tS) => (sign * angles[Math.round(tS * BODY_RATE_HZ)]) / RAD)
  return { acc, gyr, truePitchDeg: at(motion.pitch, -1), trueRollDeg: at(motion.roll, 1) }
}

function rms(a: Float64Array, b: Float64Array, from = 0): number {
  let sum = 0
  for (let i = from; i < a.length; i++) sum += (a[i] - b[i]) ** 2
  return Math.sqrt(sum / (a.length - from))
}

describe('trunkOrientation', () => {
  test.each([
    [0, 0],
    [10, 0],
    [0, -25],
    [-35, 40],
    [60, 170],
  ])('a constant reading at pitch %d°, roll %d° is exact from the first sample on', (pitchDeg, rollDeg) => {
    const [p, r] = [pitchDeg * RAD, rollDeg * RAD]
    const acc = constant(
      3000,
      9.9 * Math.sin(p),
      9.9 * Math.cos(p) * Math.sin(r),
      9.9 * Math.cos(p) * Math.cos(r),
    )
    const found = trunkOrientation(acc, still(3000), RATE_HZ)
    for (const i of [0, 1, 1500, 2999]) {
      expect(found.pitchDeg[i]).toBeCloseTo(pitchDeg, 9)
      expect(found.rollDeg[i]).toBeCloseTo(rollDeg, 9)
    }
  })

  test('nose up is positive pitch, left side up positive roll', () => {
    const motion = moving(5, ({ pitch, roll }, i) => {
      pitch[i] = -10 * RAD // the simulator counts nose down
      roll[i] = 5 * RAD
    })
    const { acc, gyr } = recorded(motion, 'signs', [0, 0, 0])
    const found = trunkOrientation(acc, gyr, RATE_HZ)
    expect(found.pitchDeg[250]).toBeCloseTo(10, 0)
    expect(found.rollDeg[250]).toBeCloseTo(5, 0)
  })

  // 10 s of quiet stand first, as in a session; then slow rocking of the board, with the trunk swaying
  // 8 mm to the side and head to tail and turning slowly.
  const rocking = (seed: number) =>
    moving(70, ({ pitch, roll, yaw, displacement }, i, tS) => {
      const on = Math.min(1, Math.max(0, (tS - 10) / 2))
      const phase = seed
      pitch[i] = on * 6 * RAD * Math.sin(2 * Math.PI * 0.15 * tS + phase)
      roll[i] = on * 8 * RAD * Math.sin(2 * Math.PI * 0.22 * tS)
      yaw[i] = on * 20 * RAD * Math.sin(2 * Math.PI * 0.05 * tS)
      displacement.ml[i] = 0.008 * Math.sin(2 * Math.PI * 0.6 * tS + phase)
      displacement.cc[i] = 0.008 * Math.sin(2 * Math.PI * 0.45 * tS)
    })

  test.each([1, 2, 3, 4, 5])(
    'slow rocking is followed within 0.5° RMS, gyroscope bias taken from the stand (%d)',
    (seed) => {
      const { acc, gyr, truePitchDeg, trueRollDeg } = recorded(rocking(seed), `rocking ${seed}`)
      const biasRadS = restingRates(gyr, 0, 10 * RATE_HZ)
      const found = trunkOrientation(acc, gyr, RATE_HZ, { biasRadS })
      expect(rms(found.pitchDeg, truePitchDeg)).toBeLessThan(0.5)
      expect(rms(found.rollDeg, trueRollDeg)).toBeLessThan(0.5)
      // The accelerometer alone reads the sway as tilt.
      const alone = acc.ml.map((ml, i) => Math.atan2(ml, acc.dv[i]) / RAD)
      expect(rms(alone, trueRollDeg)).toBeGreaterThan(2 * rms(found.rollDeg, trueRollDeg))
    },
  )

  test('an unknown bias of 1°/s is learnt: below 0.5° RMS after a minute', () => {
    const motion = moving(
      120,
      ({ roll }, i, tS) => void (roll[i] = 6 * RAD * Math.sin(2 * Math.PI * 0.2 * tS)),
    )
    const { acc, gyr, truePitchDeg, trueRollDeg } = recorded(motion, 'bias')
    const found = trunkOrientation(acc, gyr, RATE_HZ)
    expect(rms(found.rollDeg, trueRollDeg, 60 * RATE_HZ)).toBeLessThan(0.5)
    expect(rms(found.pitchDeg, truePitchDeg, 60 * RATE_HZ)).toBeLessThan(0.5)
    const unlearnt = trunkOrientation(acc, gyr, RATE_HZ, { biasGainPerS2: 0 })
    expect(rms(unlearnt.rollDeg, trueRollDeg, 60 * RATE_HZ)).toBeGreaterThan(1)
  })

  test('a recording that starts in the middle of a move starts at the true angle', () => {
    const motion = moving(
      30,
      ({ pitch }, i, tS) => void (pitch[i] = 10 * RAD * Math.cos(2 * Math.PI * 0.3 * tS)),
    )
    const { acc, gyr } = recorded(motion, 'start', [0, 0, 0])
    const found = trunkOrientation(acc, gyr, RATE_HZ)
    expect(Math.abs(found.pitchDeg[0] + 10)).toBeLessThan(0.7)
  })

  test('free fall leaves the direction to the gyroscope', () => {
    const acc = constant(600, 0, 0, 9.81)
    acc.dv.fill(0, 200, 300)
    const found = trunkOrientation(acc, still(600), RATE_HZ)
    expect(found.pitchDeg.every((angle) => angle === 0)).toBe(true)
  })

  test('no samples give none, and wrong calls are refused', () => {
    expect(trunkOrientation(still(0), still(0), RATE_HZ).pitchDeg.length).toBe(0)
    expect(() => trunkOrientation(still(3), still(2), RATE_HZ)).toThrow(TypeError)
    expect(() => trunkOrientation(still(3), still(3), 0)).toThrow('rateHz > 0')
    expect(() => trunkOrientation(still(3), still(3), RATE_HZ, { gainPerS: 0 })).toThrow('gainPerS > 0')
    expect(() => trunkOrientation(still(3), still(3), RATE_HZ, { biasGainPerS2: -1 })).toThrow(
      'biasGainPerS2',
    )
  })
})

describe('swayDegrees', () => {
  test('is the RMS about the mean: A/√2 of a sine, whatever posture it goes on about', () => {
    const n = 1000
    const pitchDeg = Float64Array.from({ length: n }, (_, i) => 30 + 4 * Math.sin((2 * Math.PI * i) / 100))
    const rollDeg = Float64Array.from({ length: n }, (_, i) => (i < 500 ? 0 : 2))
    const all = swayDegrees({ pitchDeg, rollDeg }, 0, n)
    expect(all.pitchRmsDeg).toBeCloseTo(4 / Math.SQRT2, 12)
    expect(all.rollRmsDeg).toBeCloseTo(1, 12)
    expect(swayDegrees({ pitchDeg, rollDeg }, 500, n).rollRmsDeg).toBe(0)
    expect(() => swayDegrees({ pitchDeg, rollDeg }, 500, 500)).toThrow(RangeError)
    expect(() => swayDegrees({ pitchDeg, rollDeg }, 0, n + 1)).toThrow(RangeError)
  })

  test('agrees with the true angles of a swaying trunk within 5 %', () => {
    const motion = moving(40, ({ pitch, roll }, i, tS) => {
      pitch[i] = 2 * RAD * Math.sin(2 * Math.PI * 0.4 * tS)
      roll[i] = 3 * RAD * Math.sin(2 * Math.PI * 0.5 * tS + 1)
    })
    const { acc, gyr } = recorded(motion, 'sway')
    const found = trunkOrientation(acc, gyr, RATE_HZ, { biasRadS: restingRates(gyr, 0, 20 * RATE_HZ) })
    const { pitchRmsDeg, rollRmsDeg } = swayDegrees(found, 10 * RATE_HZ, 30 * RATE_HZ)
    expect(Math.abs(pitchRmsDeg / (2 / Math.SQRT2) - 1)).toBeLessThan(0.05)
    expect(Math.abs(rollRmsDeg / (3 / Math.SQRT2) - 1)).toBeLessThan(0.05)
  })
})
