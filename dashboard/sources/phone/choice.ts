import type { SourceChoice } from '../source'

export const choice: SourceChoice = {
  sensor: 'phone',
  order: 2,
  title: 'Phone in the harness',
  explanation:
    'A phone in a pocket of the harness, with nothing to install. Phones round what they measure, many to ' +
    'steps of 0.1 m/s²: they show stepping and clear sway, not the small sway of a steady dog.',
  // Another device measures: what this one can does not matter.
  unavailable: () => null,
  Setup: () => import('./Setup.svelte'),
}
