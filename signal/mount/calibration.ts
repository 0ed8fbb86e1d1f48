import { STANDARD_GRAVITY_MS2 } from '../constants.ts'
import type { Row3 } from '../report-types.ts'
import type { UniformTrace, Vector3Series } from '../trace/trace.ts'

/** Gain and offset of an accelerometer per axis: corrected = (raw + offset) · scale, all in g. */
export interface Calibration {
  readonly offsetG: Readonly<Row3>
  readonly scale: Readonly<Row3>
}

export interface SphereFit extends Calibration {
  /** Mean distance of |a| from 1 g over the still windows, before and after. */
  readonly errorBeforeG: number
  readonly errorAfterG: number
  readonly iterations: number
  readonly windows: number
}

/** A calibration, or why there is none. */
export type CalibrationOutcome<T extends Calibration> =
  { readonly calibration: T; readonly reason: null } | { readonly calibration: null; readonly reason: string }

/** Windows, s, and the limits of stillness and of a populated sphere, g (van Hees et al. 2014; GGIR). */
const WINDOW_S = 10
const STILL_SD_G = 0.013
const LARGEST_MEAN_G = 2
const MIN_WINDOWS = 10
const POPULATED_G = 0.3
const ACCEPTED_ERROR_G = 0.01
/**
 * Points that form no sphere are also fitted by squeezing them flat far from the centre; no sound sensor is
 * off by so much (our choice).
 */
const LARGEST_OFFSET_G = 0.3
const LARGEST_GAIN_ERROR = 0.2
const LARGEST_WEIGHT = 100
const MAX_ITERATIONS = 1000
const CONVERGED = 1e-10

/**
 * Gain and offset found from the recording itself: at rest |a| is 1 g whichever way the sensor lies. Needs
 * at least ten still windows of 10 s that reach beyond ±0.3 g on every axis, so it works on a sensor that
 * lay about in many ways (before the harness is put on), and hardly ever on a session of a dog on its
 * feet: then the reason says what is missing. Temperature is not used.
 *
 * Method: van Hees et al. 2014, Autocalibration of accelerometer data for free-living physical activity
 * assessment using local gravity and temperature, J Appl Physiol 117:738–744, with the settings of its
 * published program GGIR; beyond it, gains off by more than 20 % or offsets of more than 0.3 g are refused.
 */
export function autoCalibrate(trace: UniformTrace): CalibrationOutcome<SphereFit> {
  const none = (reason: string) => ({ calibration: null, reason })
  const means = stillMeansG(trace)
  if (means.length < MIN_WINDOWS) {
    return none(`${means.length} still stretches of ${WINDOW_S} s; at least ${MIN_WINDOWS} are needed`)
  }
  const missing = ['x', 'y', 'z'].flatMap((axis, i) => [
    ...(means.some((mean) => mean[i] > POPULATED_G) ? [] : [`+${axis}`]),
    ...(means.some((mean) => mean[i] < -POPULATED_G) ? [] : [`−${axis}`]),
  ])
  if (missing.length > 0) {
    return none(`the sensor never rested with ${missing.join(', ')} more than ${POPULATED_G} g up`)
  }
  const fit = fitSphere(means)
  if (fit === null) return none('the still stretches fit no sphere')
  const mg = (errorG: number) => `${(1000 * errorG).toFixed(1)} mg`
  if (!(fit.errorAfterG < fit.errorBeforeG)) {
    return none(`the error does not fall (${mg(fit.errorBeforeG)} before, ${mg(fit.errorAfterG)} after)`)
  }
  if (!(fit.errorAfterG < ACCEPTED_ERROR_G)) {
    return none(`the error stays at ${mg(fit.errorAfterG)}; below ${mg(ACCEPTED_ERROR_G)} is needed`)
  }
  const isPlausible =
    fit.offsetG.every((value) => Math.abs(value) <= LARGEST_OFFSET_G) &&
    fit.scale.every((value) => Math.abs(value - 1) <= LARGEST_GAIN_ERROR)
  if (!isPlausible) return none('gain or offset come out beyond those of any sound sensor')
  return { calibration: fit, reason: null }
}

/** Mean acceleration, g, of every whole window of 10 s in which no axis moves (SD below 13 mg, |mean| below 2 g). */
export function stillMeansG({ rateHz, stretches }: UniformTrace): Row3[] {
  const length = Math.round(WINDOW_S * rateHz)
  const means: Row3[] = []
  for (const { acc } of stretches) {
    for (let from = 0; from + length <= acc.x.length; from += length) {
      const axes = [acc.x, acc.y, acc.z].map((axis) => statisticsG(axis.subarray(from, from + length)))
      if (axes.every(({ meanG, sdG }) => sdG < STILL_SD_G && Math.abs(meanG) < LARGEST_MEAN_G)) {
        means.push([axes[0].meanG, axes[1].meanG, axes[2].meanG])
      }
    }
  }
  return means
}

/** Mean and sample SD (ddof 1) of values in m/s², in g. */
function statisticsG(values: Float64Array): { meanG: number; sdG: number } {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length
  const squares = values.reduce((sum, value) => sum + (value - mean) ** 2, 0)
  return {
    meanG: mean / STANDARD_GRAVITY_MS2,
    sdG: Math.sqrt(squares / (values.length - 1)) / STANDARD_GRAVITY_MS2,
  }
}

/**
 * The gain and offset that bring the points closest to the unit sphere: per axis a weighted straight line
 * from the points to their nearest points of the sphere, weights min(1/distance, 100), until the weighted
 * squared distance changes by less than 1e-10 (at most 1000 times).
 *
 * @param meansG points near the sphere, g
 * @returns null when an axis does not vary, or a point lies at the centre
 */
export function fitSphere(meansG: readonly Readonly<Row3>[]): SphereFit | null {
  const n = meansG.length
  const offset: Row3 = [0, 0, 0]
  const scale: Row3 = [1, 1, 1]
  let weights = new Float64Array(n).fill(1)
  let last = Infinity
  let iterations = 0
  while (iterations < MAX_ITERATIONS) {
    iterations++
    const current = meansG.map((mean) => corrected(mean, { offsetG: offset, scale }))
    const nearest = current.map(onSphere)
    for (const k of [0, 1, 2] as const) {
      const line = weightedLine(
        current.map((point) => point[k]),
        nearest.map((point) => point[k]),
        weights,
      )
      if (line === null) return null
      for (const point of current) point[k] = line.intercept + line.slope * point[k]
      offset[k] += line.intercept / (scale[k] * line.slope)
      scale[k] *= line.slope
    }
    const squares = current.map((point, i) => squaredDistance(point, nearest[i]))
    const total = weights.reduce((sum, weight) => sum + weight, 0)
    const residual = squares.reduce((sum, square, i) => sum + weights[i] * square, 0) / (total * n)
    weights = Float64Array.from(squares, (square) => Math.min(1 / Math.sqrt(square), LARGEST_WEIGHT))
    if (Math.abs(residual - last) < CONVERGED) break
    last = residual
  }
  const fit = { offsetG: offset, scale }
  const error = (points: readonly Readonly<Row3>[]) =>
    points.reduce((sum, point) => sum + Math.abs(Math.hypot(...point) - 1), 0) / n
  const errorAfterG = error(meansG.map((mean) => corrected(mean, fit)))
  if (!Number.isFinite(errorAfterG)) return null
  return { ...fit, errorBeforeG: error(meansG), errorAfterG, iterations, windows: n }
}

function onSphere(point: Readonly<Row3>): Row3 {
  const length = Math.hypot(...point)
  return [point[0] / length, point[1] / length, point[2] / length]
}

function squaredDistance(a: Readonly<Row3>, b: Readonly<Row3>): number {
  return (a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 + (a[2] - b[2]) ** 2
}

function corrected(rawG: Readonly<Row3>, { offsetG, scale }: Calibration): Row3 {
  return [
    (rawG[0] + offsetG[0]) * scale[0],
    (rawG[1] + offsetG[1]) * scale[1],
    (rawG[2] + offsetG[2]) * scale[2],
  ]
}

/** The weighted least-squares line, or null when x does not vary. */
function weightedLine(
  x: readonly number[],
  y: readonly number[],
  weights: Float64Array,
): { intercept: number; slope: number } | null {
  const mean = (values: readonly number[]) =>
    values.reduce((sum, value, i) => sum + weights[i] * value, 0) /
    weights.reduce((sum, weight) => sum + weight, 0)
  const meanX = mean(x)
  const meanY = mean(y)
  const spread = x.reduce((sum, value, i) => sum + weights[i] * (value - meanX) ** 2, 0)
  const product = x.reduce((sum, value, i) => sum + weights[i] * (value - meanX) * (y[i] - meanY), 0)
  const slope = product / spread
  return Number.isFinite(slope) && slope !== 0 ? { intercept: meanY - slope * meanX, slope } : null
}

/** The acceleration, m/s², with gain and offset put right; new arrays. */
export function applyCalibration(acc: Vector3Series, { offsetG, scale }: Calibration): Vector3Series {
  const put = (axis: Float64Array, k: 0 | 1 | 2) =>
    axis.map((value) => (value + offsetG[k] * STANDARD_GRAVITY_MS2) * scale[k])
  return { x: put(acc.x, 0), y: put(acc.y, 1), z: put(acc.z, 2) }
}

export interface SixPositions extends Calibration {
  /** What each axis reads at 0 g, in g, and per g. */
  readonly zeroG: Readonly<Row3>
  readonly gain: Readonly<Row3>
}

/** An axis counts as up or down when it holds this share of |a|: 15° from upright, an error of 3.5 %. */
const UPRIGHT_SHARE = Math.cos(Math.PI / 12)

/**
 * The six-position check: the sensor laid still with each axis once up and once down, in any order.
 * zero = (r₊ + r₋)/2 and gain = (r₊ − r₋)/2 per axis (common practice; every text on accelerometers). A
 * position off upright by 5° makes the gain 0.4 % too small.
 *
 * @param restsMs2 mean acceleration of each position, sensor axes
 */
export function sixPositionCheck(restsMs2: readonly Readonly<Row3>[]): CalibrationOutcome<SixPositions> {
  const readings = new Map<string, number>()
  for (const rest of restsMs2) {
    const share = rest.map((value) => value / Math.hypot(...rest))
    const k = share.findIndex((value) => Math.abs(value) >= UPRIGHT_SHARE)
    if (k === -1) return { calibration: null, reason: 'in one position no axis points up or down within 15°' }
    const name = `${rest[k] > 0 ? '+' : '−'}${'xyz'[k]}`
    if (readings.has(name)) return { calibration: null, reason: `two positions have ${name} up` }
    readings.set(name, rest[k] / STANDARD_GRAVITY_MS2)
  }
  const missing = ['+x', '−x', '+y', '−y', '+z', '−z'].filter((name) => !readings.has(name))
  if (missing.length > 0) return { calibration: null, reason: `no position has ${missing.join(', ')} up` }
  const each = (of: (plus: number, minus: number) => number): Row3 => {
    const [x, y, z] = ['x', 'y', 'z'].map((axis) => of(readings.get(`+${axis}`)!, readings.get(`−${axis}`)!))
    return [x, y, z]
  }
  const zeroG = each((plus, minus) => (plus + minus) / 2)
  const gain = each((plus, minus) => (plus - minus) / 2)
  return {
    calibration: {
      zeroG,
      gain,
      offsetG: [-zeroG[0], -zeroG[1], -zeroG[2]],
      scale: [1 / gain[0], 1 / gain[1], 1 / gain[2]],
    },
    reason: null,
  }
}
