import { count } from './period'
import type { DoneTable, FactList, SetUpFacts, Told, VetReport } from './report-model'
import { oneLine, shortened } from './shorten'

/** How much of each part a page carries. */
interface Budget {
  /** Set-ups told in full, and set-ups told in a line. */
  setUps: number
  lines: number
  medication: number
  events: number
  notCounted: number
  plans: number
  /** Longest item of a list, title, line of details, sentence and question, in letters. */
  item: number
  title: number
  details: number
  sentence: number
  questions: number
  name: number
  /** Lines of verdicts in short; they stand with the set-ups too. */
  inShort: number
  facts: number
  /** What is told elsewhere too: 1 while there is room for it. */
  noise: 0 | 1
  sessionRow: 0 | 1
  more: 0 | 1
  /** Set-ups with a picture. */
  pictures: number
  extraRows: 0 | 1
  within: 0 | 1
}

const ROOMY: Budget = {
  setUps: 6,
  lines: 10,
  medication: 14,
  events: 14,
  notCounted: 8,
  plans: 4,
  item: 420,
  title: 90,
  details: 260,
  sentence: 460,
  questions: 1500,
  name: 60,
  inShort: 6,
  facts: 150,
  noise: 1,
  sessionRow: 1,
  more: 1,
  pictures: 6,
  extraRows: 1,
  within: 1,
}

/**
 * What a page gives up first when it is too full, the least important before the more important: old events and
 * long notes go before medication, medication before set-ups. Verdicts, method and cautions are never given up.
 */
const CUTS: readonly Partial<Budget>[] = [
  { noise: 0 },
  { sessionRow: 0 },
  { more: 0 },
  { pictures: 1 },
  { setUps: 4 },
  { events: 10 },
  { item: 300 },
  { medication: 10 },
  { notCounted: 5 },
  { events: 7 },
  { questions: 1000 },
  { plans: 3 },
  { medication: 8 },
  { pictures: 0 },
  { within: 0 },
  { events: 5 },
  { item: 200 },
  { setUps: 3 },
  { lines: 8 },
  { notCounted: 4 },
  { medication: 6 },
  { events: 4 },
  { name: 30 },
  { questions: 700 },
  { facts: 90 },
  { plans: 2 },
  { item: 150 },
  { lines: 6 },
  { setUps: 2 },
  { details: 180 },
  { medication: 5 },
  { events: 3 },
  { questions: 500 },
  { lines: 5 },
  { notCounted: 3 },
  { item: 120 },
  { title: 70 },
  { medication: 4 },
  { lines: 4 },
  { events: 2 },
  { questions: 350 },
  { setUps: 1 },
  { details: 140 },
  { plans: 1 },
  { item: 90 },
  { lines: 3 },
  { title: 50 },
  { medication: 3 },
  { notCounted: 2 },
  { questions: 240 },
  { lines: 2 },
  { events: 1 },
  { inShort: 1 },
  { medication: 2 },
  { item: 70 },
  { questions: 160 },
  { lines: 1 },
  { notCounted: 1 },
  { details: 110 },
  { medication: 1 },
  { questions: 100 },
  { title: 36 },
  { inShort: 0 },
  { details: 70 },
  { lines: 0 },
  { questions: 60 },
  { extraRows: 0 },
  { item: 46 },
]

/** The tightest page there is. */
export const LAST_CUT = CUTS.length

/** The report as a page carries it after the first `cuts` cuts, with what was left out in words. */
export function paperReport(report: VetReport, cuts: number): VetReport {
  const budget = Object.assign({}, ROOMY, ...CUTS.slice(0, cuts)) as Budget
  const left: string[] = []
  let shortenedTexts = false
  const cut = (text: string, max: number) => {
    const short = shortened(text, max)
    if (short !== text) shortenedTexts = true
    return short
  }
  const cutTold = ({ label, text }: Told): Told => ({
    label: cut(label, budget.title + 2),
    text: cut(text, budget.sentence),
  })
  const first = <T>(list: readonly T[], most: number, what: string): readonly T[] => {
    if (list.length > most) left.push(`${list.length - most} of ${count(list.length, what)}`)
    return list.slice(0, most)
  }
  const cutSetUp = (facts: SetUpFacts, at: number): SetUpFacts => ({
    ...facts,
    title: cut(facts.title, budget.title),
    details: cut(facts.details, budget.details),
    sway: cutTold(facts.sway),
    tremor: cutTold(facts.tremor),
    noise: budget.noise ? facts.noise : '',
    within: budget.within ? facts.within : '',
    picture: at < budget.pictures ? facts.picture : null,
  })
  const setUps = report.setUps.slice(0, budget.setUps).map(cutSetUp)
  const others = report.setUps.slice(budget.setUps)
  const inLines = others.slice(0, budget.lines)
  if (inLines.length > 0) left.push(`the numbers of ${count(inLines.length, 'set-up')} told in one line`)
  if (others.length > inLines.length)
    left.push(`${others.length - inLines.length} of ${report.setUps.length} set-ups`)
  const lists = report.lists.map((list) => ({
    ...list,
    items: first(list.items, itemsOf(list, budget), WHAT[list.id]).map((item) =>
      // What Swaybook itself says is short enough.
      isOurs(list, item) ? item : cut(item, budget.item),
    ),
    more: budget.more ? (list.more ?? []) : [],
  }))
  const isCarried = ({ rank }: DoneTable['rows'][number]) =>
    rank === 'first' || (rank === 'second' ? budget.extraRows === 1 : budget.sessionRow === 1)
  const questions = shortened(report.questions, budget.questions)
  if (questions !== report.questions) left.push('the end of the questions')
  const plan = first(report.plan, budget.plans, 'plan version').map((line) => cut(line, 260))
  // One line each set-up, then what is told of all of them together.
  const verdicts = report.inShort.slice(0, report.setUps.length)
  const inShort = [
    ...verdicts.slice(0, Math.min(budget.setUps, budget.inShort)),
    ...report.inShort.slice(report.setUps.length),
  ]
  const page: VetReport = {
    ...report,
    dogName: cut(report.dogName, budget.name),
    dogFacts: cut(report.dogFacts, budget.facts),
    plan,
    inShort: inShort.map((told) => ({ label: cut(told.label, budget.title), text: told.text })),
    setUps,
    otherSetUps: inLines.map(
      ({ title, details, sway, tremor }) =>
        `${cut(title, budget.title)} (${cut(details, 60)}). ${sway.label} ${tremor.label}`,
    ),
    done: report.done && { ...report.done, rows: report.done.rows.filter(isCarried) },
    lists,
    questions,
    whoToAsk: cut(report.whoToAsk, 330),
  }
  if (!budget.more && report.lists.some(({ more }) => more?.length)) left.push('the days of tired mornings')
  const drawn = report.setUps.filter(({ picture }) => picture).length
  const pictures = setUps.filter(({ picture }) => picture).length
  if (pictures < drawn) left.push(`${drawn - pictures} of ${count(drawn, 'picture')}`)
  if (!budget.within) left.push('the course within sessions')
  if (!budget.extraRows) left.push('rows of the weeks')
  if (shortenedTexts) left.push('the ends of long texts (…)')
  return { ...page, leftOut: leftOutWords(left) }
}

const isOurs = ({ id }: FactList, item: string) =>
  id === 'signs' || id === 'recordings' || (id === 'mornings' && !item.startsWith('Notes: '))

const WHAT: Readonly<Record<FactList['id'], string>> = {
  mornings: 'line on mornings',
  medication: 'medication',
  events: 'event',
  signs: 'line on signs',
  recordings: 'line on recordings',
  notCounted: 'reason for not comparing',
}

function itemsOf({ id, items }: FactList, budget: Budget): number {
  switch (id) {
    case 'medication':
    case 'events':
    case 'notCounted':
      return budget[id]
    default:
      return items.length
  }
}

function leftOutWords(left: readonly string[]): string {
  if (left.length === 0) return ''
  return oneLine(
    `Left out to keep one page: ${left.join(', ')}. All of it is in Swaybook: this report on the screen, Trends and Diary.`,
  )
}
