import { isoToUs } from './iso-time.ts'
import { longestStepS } from './gaps.ts'
import { median } from './median.ts'
import { COARSE_SHARE, coarseTime } from './order.ts'
import { stampResolution } from './stamps.ts'
import { TICKS_PER_S } from './units.ts'
import { shorten, TraceError } from './trace-error.ts'
import type { StampReader } from './stamps.ts'
import type { TimeUnit } from './units.ts'

/** Sample rates a body-worn accelerometer can have, Hz; stamps that say otherwise are misread (common practice, no source). */
export const PLAUSIBLE_RATE_HZ: readonly [number, number] = [5, 2000]
/** A whole stamp within these years counts time since 1970. */
const EPOCH_S: readonly [number, number] = [Date.UTC(2001, 0) / 1000, Date.UTC(2100, 0) / 1000]
/** A rate the file states for itself is believed when the stamps agree this closely. */
const RATE_AGREEMENT = 0.05
/** Above this share of a period, rounded stamps make the median step a poor rate. */
const ROUNDING_SHARE = 0.02

export interface ClockReading {
  readonly unit: TimeUnit
  readonly resolutionS: number
  /** UTC microseconds of the first stamp read, when the stamps tell. */
  readonly firstUs: number | null
  readonly notes: readonly string[]
}

/**
 * What the time column counts in: ISO stamps are in seconds; else the unit the header names; else
 * the one unit in which the median step is a plausible sample rate (the four ranges do not touch).
 *
 * @param at stamps relative to the first, file order
 * @throws {TraceError} NO_TIME, BAD_RATE
 */
export function readClock(stamps: StampReader, at: Float64Array, headerUnit: TimeUnit | null): ClockReading {
  const rises = risesOf(at)
  if (rises.length === 0) {
    throw new TraceError('COARSE_TIME', 'the time column never advances', 'Give the samples per second.')
  }
  const step = median(rises)
  const isPlausible = (unit: TimeUnit): boolean => {
    const rateHz = TICKS_PER_S[unit] / step
    return rateHz >= PLAUSIBLE_RATE_HZ[0] && rateHz <= PLAUSIBLE_RATE_HZ[1]
  }
  const notes: string[] = []
  const stated = stamps.form === 'iso' ? 's' : headerUnit
  const unit = stated ?? (['s', 'ms', 'us', 'ns'] as const).find(isPlausible)
  if (unit === undefined || !isPlausible(unit)) {
    if (rises.length < (1 - COARSE_SHARE) * (at.length - 1)) throw coarseTime()
    const said =
      unit === undefined
        ? 'in none of s, ms, µs, ns'
        : `read in ${unit}: ${shortNumber(TICKS_PER_S[unit] / step)} Hz; not`
    throw new TraceError(
      'BAD_RATE',
      `the median step of the time column is ${shortNumber(step)}, ${said} a rate from ` +
        `${PLAUSIBLE_RATE_HZ[0]} to ${PLAUSIBLE_RATE_HZ[1]} Hz`,
      'Correct the unit in the header (for example time_ms), or give the samples per second and map the axes without t.',
    )
  }
  if (stated === null) notes.push(`The unit of the time column was inferred from its median step: ${unit}.`)
  return { unit, resolutionS: stampResolution(stamps, unit), firstUs: startOf(stamps, unit, notes), notes }
}

function startOf(stamps: StampReader, unit: TimeUnit, notes: string[]): number | null {
  if (stamps.form === 'iso') {
    if (stamps.hasZone) return stamps.firstUs(1e-6)
    notes.push('The times carry no zone, so the moment of the recording is unknown.')
    return null
  }
  const firstS = stamps.first / TICKS_PER_S[unit]
  return firstS >= EPOCH_S[0] && firstS < EPOCH_S[1] ? stamps.firstUs(TICKS_PER_S[unit] / 1e6) : null
}

/**
 * Nominal rate, Hz: what the file says of itself if the stamps agree, else 1 / median step; when
 * rounded stamps make that step coarse, 1 / mean step outside gaps.
 */
export function nominalRate(
  t: Float64Array,
  resolutionS: number,
  hint: string | undefined,
  notes: string[],
): number {
  const steps = t.subarray(1).map((value, i) => value - t[i])
  const medianStep = median(steps)
  let rateHz = 1 / medianStep
  if (resolutionS > ROUNDING_SHARE * medianStep) {
    const inside = steps.filter((step) => step <= longestStepS(rateHz))
    rateHz = inside.length / inside.reduce((sum, step) => sum + step, 0)
  }
  // 1/0.01 and the like fall short of the whole number by one rounding or by that of the stamps' sum.
  if (Math.abs(rateHz - Math.round(rateHz)) < 1e-6 * rateHz) rateHz = Math.round(rateHz)
  if (hint === undefined) return rateHz
  const hinted = readRateHint(hint, notes)
  if (hinted === null || Math.abs(hinted / rateHz - 1) <= RATE_AGREEMENT) return hinted ?? rateHz
  notes.push(`The file says ${hinted} Hz, its times say ${shortNumber(rateHz)} Hz; the times were used.`)
  return rateHz
}

/** The rate in a `# rate: 100 Hz` line, or null with a note. */
export function readRateHint(hint: string, notes: string[]): number | null {
  const match = /^([0-9.]+(?:e[+-]?\d+)?)\s*(?:hz)?$/i.exec(hint)
  const rateHz = Number(match?.[1])
  if (rateHz > 0 && Number.isFinite(rateHz)) return rateHz
  notes.push(`"${shorten(hint)}" was not understood as a rate.`)
  return null
}

/** UTC microseconds in a `# started: …` line, or null with a note. */
export function readStartHint(hint: string, notes: string[]): number | null {
  const startedAtUs = isoToUs(hint)
  if (startedAtUs === null)
    notes.push(`"${shorten(hint)}" was not understood as the start: ISO 8601 with a zone is needed.`)
  return startedAtUs
}

/** @throws {TraceError} BAD_RATE */
export function requireRate(rateHz: number): number {
  if (rateHz >= PLAUSIBLE_RATE_HZ[0] && rateHz <= PLAUSIBLE_RATE_HZ[1]) return rateHz
  throw new TraceError(
    'BAD_RATE',
    `a rate of ${rateHz} Hz is outside ${PLAUSIBLE_RATE_HZ[0]} to ${PLAUSIBLE_RATE_HZ[1]} Hz`,
    'Give the samples per second of the sensor.',
  )
}

/** The steps forward. */
function risesOf(at: Float64Array): Float64Array {
  return at
    .subarray(1)
    .map((value, i) => value - at[i])
    .filter((step) => step > 0)
}

function shortNumber(value: number): string {
  return String(Number(value.toPrecision(4)))
}
