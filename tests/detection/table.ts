import { randomSession } from '#signal/simulator/population'
import { quantile } from './match.ts'
import { detectSession } from './population.ts'
import type { Detection } from './population.ts'
import { slippedSession } from './slips.ts'
import { groupsOf, summarise, SWAY_GROUPS_MS2, withSway } from './summary.ts'
import { decideOnTremor, TREMOR_DESIGNS } from './tremor-sessions.ts'
import type { SessionDecision } from './tremor-sessions.ts'
import { summariseTremor } from './tremor-summary.ts'

/**
 * Prints how well holds, mount and tremor are found on simulated sessions, as a Markdown table:
 * node --conditions=source --import tsx tests/detection/table.ts [N] [prefix …] [--groups]
 * N recordings (default 150) of each set of seeds: the given prefixes, or else `tune/`, on which settings were
 * chosen, and `fresh/`, which they have not seen; a tenth as many dogs for tremor, each in seven sessions, and a
 * fifth as many sessions with a harness made to slip. `--groups` prints the holds by what makes them hard instead.
 */
const given = process.argv.slice(2).filter((word) => word !== '--groups')
const count = Number(given[0] ?? 150)
const prefixes = given.length > 1 ? given.slice(1) : ['tune/', 'fresh/']
const rows = new Map<string, string[]>()
const add = (name: string, cell: string) => rows.set(name, [...(rows.get(name) ?? []), cell])

for (const prefix of prefixes) {
  const seeds = Array.from({ length: count }, (_, i) => `${prefix}${i}`)
  const marked: Detection[] = []
  const unmarked: Detection[] = []
  for (const seed of seeds) {
    const population = randomSession(seed)
    marked.push(detectSession(seed, population, true))
    unmarked.push(detectSession(seed, population, false))
  }
  if (process.argv.includes('--groups')) addGroups(marked, unmarked)
  else {
    addHolds('with marks', marked)
    addHolds('without marks', unmarked)
    addMount(marked)
    addSlips(seeds.slice(0, Math.ceil(count / 5)), unmarked)
    addTremor(seeds.slice(0, Math.ceil(count / 10)))
  }
}
const heads = ['', ...prefixes.map((prefix) => `${prefix}0…${count - 1}`)]
const lines = [
  heads,
  ['---', ...prefixes.map(() => '---:')],
  ...[...rows].map(([name, cells]) => [name, ...cells]),
]
process.stdout.write(lines.map((cells) => `| ${cells.join(' | ')} |\n`).join(''))

function addHolds(how: string, detections: readonly Detection[]): void {
  const s = summarise(detections)
  const handsOff = detections.reduce((sum, one) => sum + one.handsOff.length, 0)
  add(`hands-off holds ≥ 2 s found, ${how}`, `${percent(s.handsOffRecall)} of ${handsOff}`)
  add(`whole stands ≥ 2 s found, ${how}`, `${percent(s.recall)} of ${s.trueHolds}`)
  add(`false holds per 30 min, ${how}`, s.falsePer30Min.toFixed(2))
  add(
    `error of start and end, median / 95 %, ${how}`,
    `${s.edgeMedianS.toFixed(2)} / ${s.edgeP95S.toFixed(2)} s`,
  )
}

function addMount(detections: readonly Detection[]): void {
  const s = summarise(detections)
  add('error of up (DV), median / 95 %', `${s.mountMedianDeg.toFixed(1)} / ${s.mountP95Deg.toFixed(1)}°`)
  add('heading found when a led walk is marked', `${s.headings} of ${s.walks}`)
  add(
    'error of the heading, median / 95 %',
    `${s.headingMedianDeg.toFixed(1)} / ${s.headingP95Deg.toFixed(1)}°`,
  )
  const flipped = detections.filter(({ headingErrorDeg }) => headingErrorDeg !== null && headingErrorDeg > 90)
  add('heading back to front', `${flipped.length}`)
}

function addSlips(seeds: readonly string[], staying: readonly Detection[]): void {
  const slipped = seeds.map((seed) => ({ seed, population: slippedSession(seed) }))
  for (const withMarks of [true, false]) {
    const how = withMarks ? 'with marks' : 'without marks'
    const all = slipped.map(({ seed, population }) => detectSession(seed, population, withMarks))
    const found = all.filter(({ shift }) => shift)
    const errors = found.map((one) => ({
      angle: Math.abs(one.shift!.angleDeg - one.population.session.truth.slip!.angleDeg),
      time: Math.abs(one.shift!.atS - one.population.session.truth.slip!.atS),
    }))
    const middle = (values: number[]) =>
      `${quantile(values, 0.5).toFixed(1)} / ${quantile(values, 0.95).toFixed(1)}`
    add(`slips of the harness by 12–25° found, ${how}`, `${found.length} of ${all.length}`)
    add(`stands found in those sessions, ${how}`, percent(summarise(all).recall))
    if (!withMarks) continue
    add('error of the slip, angle, median / 95 %', `${middle(errors.map(({ angle }) => angle))}°`)
    add('error of the slip, time, median / 95 %', `${middle(errors.map(({ time }) => time))} s`)
  }
  const stays = staying.filter(({ population }) => !population.session.truth.slip)
  add(
    'slips reported where the harness stayed, without marks',
    `${stays.filter(({ shift }) => shift).length} of ${stays.length}`,
  )
}

function addTremor(seeds: readonly string[]): void {
  const decisions: SessionDecision[] = []
  for (const seed of seeds) for (const design of TREMOR_DESIGNS) decisions.push(decideOnTremor(seed, design))
  for (const design of TREMOR_DESIGNS) {
    const s = summariseTremor(decisions, [design])
    const name =
      typeof design === 'number' ? `tremor of ${design} × background called so` : `${design} called tremor`
    add(
      `${name}: holds; sessions`,
      `${percent(s.holdShare)} of ${s.holds}; ${percent(s.sessionShare)} of ${s.sessions}`,
    )
  }
  const s = summariseTremor(decisions, [2, 3, 4])
  const errors = `${s.peakErrorMedianHz.toFixed(2)} / ${s.peakErrorP95Hz.toFixed(2)} Hz`
  add('tremor of 2 × and more: flagged as a look-alike', percent(s.flaggedShare))
  add('error of its frequency, median / 95 %', errors)
}

function addGroups(marked: readonly Detection[], unmarked: readonly Detection[]): void {
  const addRow = (group: string, detections: readonly Detection[], falses = true) => {
    const s = summarise(detections)
    const wrong = falses ? `${s.falsePer30Min.toFixed(2)} false per 30 min, ` : ''
    add(
      group,
      `${percent(s.recall)} of ${s.trueHolds}, ${wrong}edges ${s.edgeMedianS.toFixed(2)} / ${s.edgeP95S.toFixed(2)} s`,
    )
  }
  addRow('all, with marks', marked)
  addRow('all, without marks', unmarked)
  for (const group of [...new Set(marked.flatMap(groupsOf))].sort()) {
    addRow(
      group,
      marked.filter((one) => groupsOf(one).includes(group)),
    )
  }
  for (let i = 1; i < SWAY_GROUPS_MS2.length; i++) {
    const [from, to] = [SWAY_GROUPS_MS2[i - 1], SWAY_GROUPS_MS2[i]]
    const name = to === Infinity ? `${from} and more` : `${from} to ${to}`
    addRow(`stands swaying ${name} m/s²`, withSway(marked, from, to), false)
  }
}

function percent(share: number): string {
  return `${(100 * share).toFixed(1)} %`
}
