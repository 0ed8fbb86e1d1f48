import type { SourceChoice } from '../source'

export const choice: SourceChoice = {
  sensor: 'replay',
  order: 80,
  title: 'Replay of a trace file',
  explanation:
    'Plays a recorded trace in real time as if a sensor sent it: to practise, and to try the hold view. The ' +
    'session says that it was replayed. To keep a trace, add it as a file instead.',
  unavailable: () =>
    typeof Worker === 'undefined' ? 'This browser cannot run it: it has no Workers.' : null,
  Setup: () => import('./Setup.svelte'),
}
