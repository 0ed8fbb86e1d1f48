import { SWAY_CUTOFF_HZ } from '#signal/constants'
import type { Told } from './report-model'

/** How the numbers were made, in as few words as a vet needs to judge them. */
export function methodWords(baselineSessions: number, versions: readonly string[]): Told[] {
  return [
    {
      label: 'Measured',
      text:
        'acceleration of the trunk, turned to the dog’s axes (CC front to back, ML side to side, DV up) by gravity in a quiet stand. ' +
        'Holds (standing still and upright for 1 s or more) are found by software, hands-off is as the handler marked it.',
    },
    {
      label: 'Sway',
      text:
        `RMS √(ML² + CC²) below ${SWAY_CUTOFF_HZ} Hz (Butterworth, 4th order, zero-phase), median of 5 s pieces of ` +
        'hands-off hold time (of all hold time where nobody marked hands). Tremor: RMS from 4 to 12 Hz, three axes, same pieces; ' +
        'sessions with panting, wagging or handling left out.',
    },
    {
      label: 'Change',
      text:
        'one value a week (median): Theil–Sen slope with Sen’s 95 % interval, Mann–Kendall test; newest 3 sessions against the first ' +
        `${baselineSessions} of the period, smallest detectable change (95 %) from the spread of those ${baselineSessions}. A change is told only when all three agree.${versionWords(versions)}`,
    },
    {
      label: 'Uncertain',
      text:
        '“no change beyond noise” does not prove that nothing changed: of simulated falls of 4 % a week, 95 % were found in 16 weeks, 31 % in 8. ' +
        'Without any change 1 to 3 % of verdicts were wrong, more when neighbouring days resemble one another. There are no norms for dogs.',
    },
  ]
}

function versionWords(versions: readonly string[]): string {
  if (versions.length === 0) return ''
  return ` Analysis version ${versions.join(' and ')}.`
}

export const CAUTIONS =
  'Swaybook measures: nothing here is a diagnosis or advice to do more. Exercises only with the vet’s approval and within the ' +
  'plan; progress is the therapist’s decision. Less sway is not by itself healthier: guarding stiffens too. No number knows which leg, or whether it ' +
  'hurts. Stop at pain, reluctance or tiredness.'

export function whoToAsk(setBy: string | null): string {
  const plan = setBy === null ? 'the vet or the therapist (no plan was given)' : `${setBy}, who set the plan`
  return `Who to ask: about the exercises ${plan}; about pain, medication or a new sign the vet. “What the numbers mean” in Swaybook explains each number.`
}
