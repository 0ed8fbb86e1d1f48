import { MIN_RATE_PER_BAND_EDGE, STANDARD_GRAVITY_MS2, SWAY_SPECTRUM_HZ } from '../constants.ts'
import { clippedSamples } from './clipping.ts'
import { gapFreeRuns, gapsBetween } from './gaps.ts'
import { flatSamples } from './flat-line.ts'
import { quantisationStep, sensorFloor } from './sensor-floor.ts'
import { stepStatistics } from './steps.ts'
import type { QualityReport } from '../report-types.ts'
import type { Trace, Vector3Series } from './trace.ts'

/** Below this coverage most stretches are too broken for holds; below the other a little is missing. */
const POOR_COVERAGE = 0.8
const GOOD_COVERAGE = 0.99
/** Peaks cut off in more than 1 % of the samples falsify RMS and range. */
const POOR_CLIPPED_SHARE = 0.01
/** A fifth of a recording without any change: the sensor hung or was not on the dog. */
const POOR_FLAT_SHARE = 0.2
/** Jitter (SD) up to a tenth of a period is levelled by interpolation; beyond half a period it is not. */
const GOOD_JITTER_PERIODS = 0.1
const POOR_JITTER_PERIODS = 0.5
/** |a| at rest: lumbar sensors in open recordings read within 3 %; 5 % says recalibrate, 20 % says not a resting accelerometer. */
const GOOD_GRAVITY_ERROR = 0.05
const POOR_GRAVITY_ERROR = 0.2
/** Beyond 32 g: harder than a trunk moves or most body-worn sensors read; one such sample drowns its hold (common practice, no source). */
const SPIKE_MS2 = 32 * STANDARD_GRAVITY_MS2
/** Steps coarser than this, m/s², hide the sway of a steady dog (RMS around 0.05 to 0.2; common practice, no source). */
const COARSE_STEP_MS2 = 0.05

export interface QualityContext {
  /** From `ParsedTrace`. */
  readonly stampResolutionS: number
  readonly duplicates: number
  readonly unusedSamples: number
  /** Upper edges of the bands that will be measured, Hz. */
  readonly bandEdgesHz: readonly number[]
  /** Smallest step of the sensor, m/s², when it is stated; null leaves it to what the samples show. Default null. */
  readonly resolutionMs2?: number | null
}

type Severity = 'good' | 'usable' | 'poor'

/**
 * How far a recording can be trusted. `jitterMaxS` is the largest distance of a step from the mean
 * step; steps over gaps (longer than 2.5 nominal periods and 50 ms) enter neither jitter nor rate.
 * The verdict is that of the worst finding; a `good` recording may still carry remarks.
 *
 * @throws {RangeError} when the trace holds no sample
 */
export function traceQuality(trace: Trace, context: QualityContext): QualityReport {
  const { t, acc, rateHz } = trace
  const n = t.length
  if (n === 0) throw new RangeError('traceQuality requires at least one sample')
  const runs = gapFreeRuns(t, rateHz)
  const gaps = gapsBetween(t, runs)
  const steps = stepStatistics(t, rateHz, runs)
  const seenStepMs2 = quantisationStep(acc)
  const resolutionMs2 = context.resolutionMs2 ?? null
  // A dog that stands still within one step shows no step at all: the stated one is then all there is.
  const stepMs2 = Math.max(seenStepMs2, resolutionMs2 ?? 0)
  const clipped = clippedSamples(acc, seenStepMs2)
  const flat = flatSamples(t, acc, rateHz, runs)
  const floor = sensorFloor(acc, rateHz, stepMs2, runs)

  const findings: [Severity, string][] = []
  const find = (severity: Severity, reason: string) => findings.push([severity, reason])
  if (gaps.length > 0 || steps.coverage < GOOD_COVERAGE) {
    const longestS = gaps.reduce((longest, { fromS, toS }) => Math.max(longest, toS - fromS), 0)
    find(
      steps.coverage < POOR_COVERAGE ? 'poor' : 'usable',
      `${counted(gaps.length, 'gap')}${gaps.length > 0 ? `, the longest ${round(longestS)} s` : ''}: ` +
        `${percent(steps.coverage)} of the expected samples arrived.`,
    )
  }
  // Rounding of the stamps alone gives the steps an SD of up to half the resolution: no unevenness of the sensor.
  const roundingSdS = context.stampResolutionS / 2
  const jitterPeriods =
    Math.sqrt(Math.max(0, steps.jitterSdS ** 2 - roundingSdS ** 2)) * steps.effectiveRateHz
  if (jitterPeriods > GOOD_JITTER_PERIODS) {
    find(
      jitterPeriods > POOR_JITTER_PERIODS ? 'poor' : 'usable',
      `Samples came unevenly: the time between them varies by ${percent(jitterPeriods)} of its mean.`,
    )
  }
  if (clipped > 0) {
    find(
      clipped > POOR_CLIPPED_SHARE * n ? 'poor' : 'usable',
      `${counted(clipped, 'sample')} at the end of the sensor's range: true peaks were higher.`,
    )
  }
  const spikes = countSpikes(acc)
  if (spikes > 0) {
    find(
      'poor',
      `${counted(spikes, 'sample')} beyond 32 times gravity: no dog moves like that. Look for damaged rows or a wrong unit.`,
    )
  }
  if (flat > 0) {
    find(
      flat > POOR_FLAT_SHARE * n ? 'poor' : 'usable',
      `The sensor reported no change at all for ${round(flat / steps.effectiveRateHz)} s.`,
    )
  }
  if (floor !== null) judgeGravity(floor.restNormMs2, find)
  if (stepMs2 > COARSE_STEP_MS2) {
    find(
      'usable',
      `The sensor cannot show changes smaller than ${round(stepMs2)} m/s², so the sway of a steady dog may be lost.`,
    )
  }
  judgeBandwidth(steps.effectiveRateHz, context.bandEdgesHz, find)
  if (context.duplicates > 0) find('good', `${counted(context.duplicates, 'repeated row')} dropped.`)
  if (context.unusedSamples > 0) {
    find(
      context.unusedSamples > (1 - GOOD_COVERAGE) * n ? 'usable' : 'good',
      `${counted(context.unusedSamples, 'row')} without a usable sample left out.`,
    )
  }
  const has = (severity: Severity) => findings.some(([found]) => found === severity)
  return {
    verdict: has('poor') ? 'poor' : has('usable') ? 'usable' : 'good',
    reasons: findings.map(([, reason]) => reason),
    gaps,
    effectiveRateHz: steps.effectiveRateHz,
    jitterSdS: steps.jitterSdS,
    jitterMaxS: steps.jitterMaxS,
    clippedSamples: clipped,
    flatSamples: flat,
    duplicates: context.duplicates,
    unusedSamples: context.unusedSamples,
    coverage: steps.coverage,
    noiseFloorMs2: floor?.noiseMs2 ?? null,
    ...(resolutionMs2 === null ? {} : { resolutionMs2 }),
  }
}

function countSpikes({ x, y, z }: Vector3Series): number {
  let count = 0
  for (let i = 0; i < x.length; i++) {
    if (Math.abs(x[i]) > SPIKE_MS2 || Math.abs(y[i]) > SPIKE_MS2 || Math.abs(z[i]) > SPIKE_MS2) count++
  }
  return count
}

function judgeGravity(restNormMs2: number, find: (severity: Severity, reason: string) => void): void {
  const error = restNormMs2 / STANDARD_GRAVITY_MS2 - 1
  if (Math.abs(error) <= GOOD_GRAVITY_ERROR) return
  find(
    Math.abs(error) > POOR_GRAVITY_ERROR ? 'poor' : 'usable',
    `At its quietest the sensor reads ${round(restNormMs2)} m/s² instead of gravity's 9.81 ` +
      `(${error > 0 ? '+' : '−'}${percent(Math.abs(error))}): sway values are off by as much.`,
  )
}

function judgeBandwidth(
  rateHz: number,
  bandEdgesHz: readonly number[],
  find: (severity: Severity, reason: string) => void,
): void {
  const lost = [...new Set(bandEdgesHz)]
    .filter((edgeHz) => rateHz < MIN_RATE_PER_BAND_EDGE * edgeHz)
    .sort((a, b) => a - b)
  if (lost.length > 0) {
    find(
      'usable',
      `${round(rateHz)} samples per second are too few for bands up to ${lost.map(round).join(' and ')} Hz ` +
        `(${MIN_RATE_PER_BAND_EDGE} times the upper edge is needed).`,
    )
  }
  if (rateHz < MIN_RATE_PER_BAND_EDGE * SWAY_SPECTRUM_HZ[1]) {
    find('poor', `${round(rateHz)} samples per second are too few even for sway.`)
  }
}

function counted(count: number, noun: string): string {
  return `${count} ${noun}${count === 1 ? '' : 's'}`
}

function percent(share: number): string {
  // Never "100 %" for something that is not all.
  const shown = share < 1 && share > 0.999 ? 99.9 : Number((100 * share).toPrecision(3))
  return `${shown} %`
}

function round(value: number): number {
  return Number(value.toPrecision(3))
}
