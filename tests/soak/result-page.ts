import { resultText } from './result-text.ts'
import type { SoakResult } from './result.ts'

/** RESULT.md: the figures and plots of runs, one section each. */
export function resultPage(results: readonly SoakResult[]): string {
  return [
    '# What the soak found',
    '',
    'Written by `tests/soak/write-result.ts` from the runs themselves; how to run and read it: DEVELOPERS.md, "Load".',
    'Every sample has a value that follows from stream and index, so what the server gives back is compared value by',
    'value with what its sensor took.',
    '',
    'Memory: the heap is a saw, filled and collected; how far it is filled depends on what else the machine does, and',
    'resident memory keeps the highest tooth. What is really kept shows in the least of each minute. That nothing is kept',
    'of sessions that are over is proved apart, with the heap collected in full: `tests/faults/kept-memory.test.ts`.',
    'Intervals take the points as independent, which neighbouring minutes are not quite.',
    ...results.flatMap((result) => ['', ...section(result)]),
  ].join('\n')
}

function section(result: SoakResult): string[] {
  const { options, startedAt, commit, machine } = result
  const { series, minutes, streams, seed, kills } = options
  const command = `npm run soak -- --minutes ${minutes} --streams ${streams} --seed ${seed} --series ${series} --kills ${kills.join(',')}`
  return [
    `## ${series === 'influx' ? 'Samples in InfluxDB' : 'Samples in SQLite'}`,
    '',
    `\`${command}\`, ${startedAt.slice(0, 10)}, code of commit ${commit}, Node ${machine.node} on ${machine.system}, a virtual`,
    `machine of ${machine.cores} cores and ${machine.memoryGb} GB that had other work to do at the same time: delays say little.`,
    '',
    `![Memory, samples, delay and kills over the minutes of the run](${series}.svg)`,
    '',
    resultText(result).trimEnd(),
    '',
  ]
}
