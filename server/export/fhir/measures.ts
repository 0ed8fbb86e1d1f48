import { median } from 'simple-statistics'
import type { Report } from '#signal/report-types'
import type { Quantity, UcumCode } from './resources.ts'

export interface Measured {
  readonly value: number | null
  readonly unit: UcumCode
  /** Why there is no value. */
  readonly reason: string
}

export interface Measure extends Measured {
  readonly code: string
  readonly display: string
  /** How the number was made, for whoever reads it without us. */
  readonly method: string
  readonly component?: Measured & { readonly code: string; readonly display: string }
}

const UNIT_WORDS: Readonly<Record<UcumCode, string>> = {
  'm/s2': 'm/s²',
  'm/s3': 'm/s³',
  s: 's',
  Hz: 'Hz',
  '1': '1',
}

export function quantity(value: number, unit: UcumCode): Quantity {
  return { value, unit: UNIT_WORDS[unit], system: 'http://unitsofmeasure.org', code: unit }
}

/** What is told of a session, in the definitions of its report. */
export function measuresOf({ session, holds }: Report): Measure[] {
  const { comparable } = session
  const exercise = holds.filter(({ role }) => role === 'exercise')
  const peaks = exercise
    .map(({ tremor }) => tremor.bands.find(({ name }) => name === 'tremor'))
    .map((band) => (band?.distinct ? band.peakHz : null))
    .filter((peakHz) => peakHz !== null)
  const repetitions = session.repetitions.filter(({ holdS }) => holdS > 0).length
  const ofSession = session.reason ?? 'The session has no such hold.'
  const ofPieces = comparable.reason ?? 'There was too little hold time.'
  const pieces = `Median over ${comparable.pieceS} s pieces of ${comparable.basis}.`
  return [
    {
      code: 'hands-off-hold-time',
      display: 'Hands-off hold time',
      value: session.handsOffHoldS,
      unit: 's',
      reason: session.reason ?? 'No hand support was marked.',
      method: 'Sum of the time in stable holds without a hand on the dog, by the marks of the handler.',
    },
    {
      code: 'best-hold',
      display: 'Longest stable hold',
      value: session.bestHoldS,
      unit: 's',
      reason: ofSession,
      method: 'Longest stretch in which the dog stood without a step or a tilt, found in the acceleration.',
    },
    {
      code: 'sway-rms',
      display: 'Sway, RMS of horizontal acceleration',
      value: comparable.swayRms,
      unit: 'm/s2',
      reason: ofPieces,
      method: `${pieces} Root mean square of the low-passed horizontal acceleration of the trunk.`,
    },
    {
      code: 'sway-path-rate',
      display: 'Sway path per second',
      value: comparable.pathRate,
      unit: 'm/s3',
      reason: ofPieces,
      method: `${pieces} Length of the path of the horizontal acceleration per second.`,
    },
    {
      code: 'tremor-rms',
      display: 'Acceleration in the tremor band, RMS',
      value: comparable.tremorRms,
      unit: 'm/s2',
      reason: ofPieces,
      method: `${pieces} Root of the power in the tremor band, summed over three axes (Welch). A movement in this band need not be a tremor.`,
      component: {
        code: 'tremor-peak-frequency',
        display: 'Peak frequency in the tremor band',
        value: peaks.length > 0 ? median(peaks) : null,
        unit: 'Hz',
        reason: 'No hold has a distinct peak in the tremor band.',
      },
    },
    {
      code: 'support-share',
      display: 'Share of hold time with hand support',
      value: session.supportShare,
      unit: '1',
      reason: session.reason ?? 'No hand support was marked.',
      method: 'Hold time with a hand on the dog over all hold time, by the marks of the handler.',
    },
    {
      code: 'repetitions',
      display: 'Number of repetitions',
      value: repetitions,
      unit: '1',
      reason: ofSession,
      method: `Repetitions with hold time in them, by ${session.repetitionBasis}.`,
    },
  ]
}
