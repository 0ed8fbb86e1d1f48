import type { SourceChoice } from '../source'

export const choice: SourceChoice = {
  sensor: 'simulated harness',
  order: 90,
  title: 'Simulated harness in this browser',
  explanation:
    'Plays an invented dog with an invented handler, who marks hands-on and hands-off. Nothing of it is a ' +
    'measurement of your dog.',
  unavailable: () =>
    typeof Worker === 'undefined' ? 'This browser cannot run it: it has no Workers.' : null,
  Setup: () => import('./Setup.svelte'),
}
