import type { BandReport, HoldReport } from '#signal/report-types'
import {
  acceleration,
  accelerationScale,
  decimal,
  ellipseArea,
  jerk,
  multiple,
  pathRate,
  measured,
} from './format'
import type { AccelerationUnit, Quantity } from './format'

export interface Fact {
  name: string
  /** The value with its unit; null when there is none, and then `why` says so. */
  value: Quantity | null
  why?: string
}

const NO_REASON = 'not supported by this recording'

/** All numbers of one hold, in the order they are read. */
export function holdFacts(hold: HoldReport, unit: AccelerationUnit): Fact[] {
  const { sway } = hold
  const acc = (name: string, value: number | null, why?: string): Fact => ({
    name,
    value: value === null ? null : acceleration(value, unit),
    why: why ?? sway.reason ?? NO_REASON,
  })
  const hertz = (name: string, value: number | null): Fact => ({
    name,
    value: value === null ? null : { value: measured(value), unit: 'Hz' },
    why: sway.spectral.reason ?? sway.reason ?? NO_REASON,
  })
  return [
    acc('Sway RMS, side to side (ML)', sway.rms.ml, sway.rms.reason),
    acc('Sway RMS, front to back (CC)', sway.rms.cc, sway.rms.reason),
    acc('Sway RMS, up and down (DV)', sway.rms.dv),
    acc('Range, side to side', sway.range.ml, sway.range.reason),
    acc('Range, front to back', sway.range.cc, sway.range.reason),
    {
      name: 'Steadiness ratio (hold ÷ floor)',
      value: sway.steadinessRatio === null ? null : { value: multiple(sway.steadinessRatio), unit: 'floor' },
      why: 'no quiet stand on the floor in this recording',
    },
    {
      name: 'Sway path',
      value: {
        value: measured(sway.path * accelerationScale(unit).factor),
        unit: accelerationScale(unit).name,
      },
    },
    { name: 'Path rate', value: pathRate(sway.pathRate, unit) },
    { name: 'Jerk (½∫)', value: jerk(sway.jerk, unit) },
    { name: 'Ellipse area', value: ellipseArea(sway.ellipse.area, unit) },
    acc('Ellipse, long semi-axis', sway.ellipse.major),
    acc('Ellipse, short semi-axis', sway.ellipse.minor),
    hertz('Half of the power below (F50), ML', sway.spectral.f50Hz.ml),
    hertz('Half of the power below (F50), CC', sway.spectral.f50Hz.cc),
    hertz('95 % of the power below (F95), ML', sway.spectral.f95Hz.ml),
    hertz('95 % of the power below (F95), CC', sway.spectral.f95Hz.cc),
    hertz('Centroidal frequency, ML', sway.spectral.centroidHz.ml),
    hertz('Centroidal frequency, CC', sway.spectral.centroidHz.cc),
    ...hold.tremor.bands.map((band) => ({
      name: `RMS in the ${band.name} band, ${band.fromHz}–${band.toHz} Hz`,
      value: band.rms === null ? null : acceleration(band.rms, unit),
      why: band.reason ?? NO_REASON,
    })),
  ]
}

/** Facts without a value, together by what they lack. */
export function missingFacts(facts: readonly Fact[]): { why: string; names: string[] }[] {
  const groups = new Map<string, string[]>()
  for (const fact of facts) {
    if (fact.value) continue
    const why = fact.why ?? NO_REASON
    groups.set(why, [...(groups.get(why) ?? []), fact.name])
  }
  return [...groups].map(([why, names]) => ({ why, names }))
}

export const tremorBand = (hold: HoldReport): BandReport | undefined =>
  hold.tremor.bands.find((band) => band.name === 'tremor')

const NO_PEAK = 'no distinct peak'

/** "6.2 Hz", or that no peak stands out; the look-alike is part of the sentence. */
export function peakWords(band: BandReport): string {
  if (band.rms === null) return band.reason ?? NO_REASON
  const peak = band.distinct && band.peakHz !== null ? `peak ${decimal(band.peakHz, 1)} Hz` : NO_PEAK
  return band.lookalike ? `${peak}; looks like ${band.lookalike}` : peak
}

/** The same in a table, with what the sensor cannot tell below it: never the same words twice. */
export function peakLines(band: BandReport, limited: boolean): string[] {
  const words = peakWords(band)
  if (!limited || band.rms === null || !band.reason) return [words]
  return band.reason.startsWith(words) ? [band.reason] : [words, band.reason]
}
