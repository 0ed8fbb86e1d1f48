import { STANDARD_GRAVITY_MS2 } from '../constants.ts'
import type { Vector3Series } from '../trace/trace.ts'
import { BODY_RATE_HZ } from './body-motion.ts'
import type { AxisArrays } from './body-motion.ts'
import { raisedCosine } from './burst.ts'
import type { Random } from './random.ts'
import { product, rotationFromEuler, transposed } from './rotation.ts'
import type { Rotation, Row, SimulatedMount, SimulatedSensor } from './script.ts'

/** White noise RMS per sample in m/s² of a sensor of the given density (µg/√Hz) with half the rate as bandwidth. */
export function noiseRms(densityUgPerRootHz: number, rateHz: number): number {
  return densityUgPerRootHz * 1e-6 * STANDARD_GRAVITY_MS2 * Math.sqrt(rateHz / 2)
}

/**
 * Sampling instants in seconds from the first sample: an even grid of the true rate, each moved by
 * jitter of the given SD, held within 0.4 periods so that the order stays.
 */
export function samplingInstants(
  durationS: number,
  rateHz: number,
  jitterS: number,
  random: Random,
): Float64Array {
  const n = Math.floor(durationS * rateHz)
  const limitS = 0.4 / rateHz
  return Float64Array.from({ length: n }, (_, i) => {
    if (i === 0 || jitterS === 0) return i / rateHz
    return i / rateHz + Math.min(limitS, Math.max(-limitS, jitterS * random.normal()))
  })
}

/**
 * Body-grid channels at the sensor's instants, band-limited to 0.45 of its rate by a Hann-windowed
 * sinc of 8 sample periods each side (the sensor's anti-alias filter, without delay).
 */
export function sampleBody(channels: AxisArrays, instants: Float64Array, rateHz: number): AxisArrays {
  const cutoff = Math.min(0.9 * rateHz, 0.9 * BODY_RATE_HZ) // 2 × corner, Hz
  const halfS = 8 / rateHz
  const last = channels.cc.length - 1
  const turn = {
    sine: Math.sin((Math.PI * cutoff) / BODY_RATE_HZ),
    cosine: Math.cos((Math.PI * cutoff) / BODY_RATE_HZ),
    windowSine: Math.sin(Math.PI / (halfS * BODY_RATE_HZ)),
    windowCosine: Math.cos(Math.PI / (halfS * BODY_RATE_HZ)),
  }
  const out = {
    cc: new Float64Array(instants.length),
    ml: new Float64Array(instants.length),
    dv: new Float64Array(instants.length),
  }
  for (let i = 0; i < instants.length; i++) {
    const from = Math.ceil((instants[i] - halfS) * BODY_RATE_HZ)
    const to = Math.floor((instants[i] + halfS) * BODY_RATE_HZ)
    let sum = 0
    let cc = 0
    let ml = 0
    let dv = 0
    // Sine and window advance by fixed turns, so one rotation each replaces a sine and a cosine per tap.
    const firstS = from / BODY_RATE_HZ - instants[i]
    let sine = Math.sin(Math.PI * cutoff * firstS)
    let cosine = Math.cos(Math.PI * cutoff * firstS)
    let windowSine = Math.sin((Math.PI * firstS) / halfS)
    let windowCosine = Math.cos((Math.PI * firstS) / halfS)
    for (let k = from; k <= to; k++) {
      const x = Math.PI * cutoff * (firstS + (k - from) / BODY_RATE_HZ)
      const weight = (Math.abs(x) < 1e-9 ? 1 : sine / x) * (1 + windowCosine)
      const at = k < 0 ? 0 : k > last ? last : k
      sum += weight
      cc += weight * channels.cc[at]
      ml += weight * channels.ml[at]
      dv += weight * channels.dv[at]
      const nextSine = sine * turn.cosine + cosine * turn.sine
      cosine = cosine * turn.cosine - sine * turn.sine
      sine = nextSine
      const nextWindow = windowSine * turn.windowCosine + windowCosine * turn.windowSine
      windowCosine = windowCosine * turn.windowCosine - windowSine * turn.windowSine
      windowSine = nextWindow
    }
    out.cc[i] = cc / sum
    out.ml[i] = ml / sum
    out.dv[i] = dv / sum
  }
  return out
}

/** dog = rotation · sensor of a mount; the identity when none is given. */
export function mountRotation(mount: SimulatedMount | undefined): Rotation {
  const rotation = mount?.rotation ?? { rollDeg: 0, pitchDeg: 0, yawDeg: 0 }
  return 'rollDeg' in rotation ? rotationFromEuler(rotation) : rotation
}

/** Dog-axis samples as seen by a sensor on this mount, slip included, in sensor axes. */
export function mountedSamples(
  dog: AxisArrays,
  instants: Float64Array,
  mount: SimulatedMount | undefined,
): Vector3Series {
  const n = instants.length
  const base = mountRotation(mount)
  const slip = mount?.slip
  const slipped = (share: number): Rotation => {
    if (!slip || share === 0) return base
    const { rollDeg, pitchDeg, yawDeg } = slip.turn
    return product(
      rotationFromEuler({ rollDeg: share * rollDeg, pitchDeg: share * pitchDeg, yawDeg: share * yawDeg }),
      base,
    )
  }
  const before = transposed(base)
  const after = transposed(slipped(1))
  const out = { x: new Float64Array(n), y: new Float64Array(n), z: new Float64Array(n) }
  for (let i = 0; i < n; i++) {
    const share = slip ? raisedCosine((instants[i] - slip.atS) / 0.3) : 0
    const m = share === 0 ? before : share === 1 ? after : transposed(slipped(share))
    out.x[i] = m[0][0] * dog.cc[i] + m[0][1] * dog.ml[i] + m[0][2] * dog.dv[i]
    out.y[i] = m[1][0] * dog.cc[i] + m[1][1] * dog.ml[i] + m[1][2] * dog.dv[i]
    out.z[i] = m[2][0] * dog.cc[i] + m[2][1] * dog.ml[i] + m[2][2] * dog.dv[i]
  }
  return out
}

/** Accelerometer reading in m/s²: gain error, bias, noise, clipping at the range, whole counts. */
export function accelerometerReading(
  ideal: Vector3Series,
  sensor: SimulatedSensor,
  random: Random,
): Vector3Series {
  const { noiseMs2 = 0.01, biasMs2 = [0, 0, 0], scaleError = [0, 0, 0], stepMs2 = 0 } = sensor
  const rangeMs2 = sensor.rangeMs2 ?? 8 * STANDARD_GRAVITY_MS2
  const read = (value: number, axis: number): number => {
    const noisy = value * (1 + scaleError[axis]) + biasMs2[axis] + noiseMs2 * random.normal()
    const shown = Math.min(rangeMs2, Math.max(-rangeMs2, noisy))
    return stepMs2 > 0 ? Math.round(shown / stepMs2) * stepMs2 : shown
  }
  return eachAxis(ideal, read)
}

/** Gyroscope reading in rad/s: bias and noise. */
export function gyroscopeReading(
  ideal: Vector3Series,
  sensor: SimulatedSensor,
  random: Random,
): Vector3Series {
  const { gyroscopeNoiseRadS = 0.002, gyroscopeBiasRadS = [0, 0, 0] as Row } = sensor
  return eachAxis(
    ideal,
    (value, axis) => value + gyroscopeBiasRadS[axis] + gyroscopeNoiseRadS * random.normal(),
  )
}

function eachAxis(series: Vector3Series, read: (value: number, axis: number) => number): Vector3Series {
  return {
    x: series.x.map((value) => read(value, 0)),
    y: series.y.map((value) => read(value, 1)),
    z: series.z.map((value) => read(value, 2)),
  }
}
