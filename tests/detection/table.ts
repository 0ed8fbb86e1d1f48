import { detectSession } from './population.ts'
import type { Detection } from './population.ts'
import { groupsOf, summarise } from './summary.ts'
import { randomSession } from '#signal/simulator/population'

/**
 * Prints how well holds are detected on simulated sessions, as a Markdown table:
 * node --conditions=source --import tsx tests/detection/table.ts [N] [prefix]
 * N recordings (default 150) of each set of seeds: the given prefix, or else `tune/`, on which the
 * detector's settings were chosen, and `fresh/`, which they have not seen.
 */
const [count = '150', ...given] = process.argv.slice(2)
const prefixes = given.length > 0 ? given : ['tune/', 'fresh/']

const lines = [
  '| seeds | group | recordings | stands ≥ 2 s | recall | false per 30 min | edge median, s | edge 95 %, s | mount median, ° | mount 95 %, ° |',
  '| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |',
]
for (const prefix of prefixes) {
  const marked: Detection[] = []
  const unmarked: Detection[] = []
  for (let i = 0; i < Number(count); i++) {
    const population = randomSession(`${prefix}${i}`)
    marked.push(detectSession(`${prefix}${i}`, population, true))
    unmarked.push(detectSession(`${prefix}${i}`, population, false))
  }
  addRow(prefix, 'all, with marks', marked)
  addRow(prefix, 'all, without marks', unmarked)
  for (const group of [...new Set(marked.flatMap(groupsOf))].sort()) {
    addRow(
      prefix,
      group,
      marked.filter((one) => groupsOf(one).includes(group)),
    )
  }
}
process.stdout.write(`${lines.join('\n')}\n`)

function addRow(prefix: string, group: string, detections: readonly Detection[]): void {
  const s = summarise(detections)
  const cells = [
    `${prefix}0…${Number(count) - 1}`,
    group,
    s.recordings,
    s.trueHolds,
    s.recall.toFixed(3),
    s.falsePer30Min.toFixed(2),
    s.edgeMedianS.toFixed(2),
    s.edgeP95S.toFixed(2),
    s.mountMedianDeg.toFixed(1),
    s.mountP95Deg.toFixed(1),
  ]
  lines.push(`| ${cells.join(' | ')} |`)
}
