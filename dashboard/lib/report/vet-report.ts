import { planInForce } from '#protocol/plan-in-force'
import type { Plan, SessionSummary } from '#protocol/resources'
import { height, weight } from '../format'
import type { AccelerationUnit, BodyUnits } from '../format'
import { planLimits } from '../plan-words'
import { doneTable } from './done-table'
import { events, medication, mornings, notCounted, recordings, signs, touching } from './fact-lists'
import { addDays, count, dayOf, dayWords, isWithin, periodWords } from './period'
import type { Period } from './period'
import type { SetUpFacts, Told, VetReport } from './report-model'
import type { ReportSources } from './report-sources'
import { CAUTIONS, methodWords, whoToAsk } from './report-words'
import { setUpFacts } from './set-up-facts'
import { oneLine, shortened } from './shorten'
import type { Letter } from './trend-picture'

export interface ReportRequest {
  readonly period: Period
  readonly questions: string
  readonly now: Date
  readonly unit: AccelerationUnit
  readonly bodyUnits: BodyUnits
}

const USUAL_BASELINE = 5

/** The report of a dog in full; what a page has no room for is taken away by `paper-report.ts`. */
export function vetReport(sources: ReportSources, request: ReportRequest): VetReport {
  const { dog, trends, plans } = sources
  const { period, unit, now } = request
  const sessions = sources.sessions
    .filter(({ startedAt, state }) => isWithin(period, startedAt) && state !== 'recording')
    .sort((a, b) => Date.parse(a.startedAt!) - Date.parse(b.startedAt!))
  const applied = plansIn(period, plans)
  const letters = lettersOf(sources, period, applied)
  const lines = trends.swayRms.lines
  const setUps = lines.map((line) => setUpFacts(line, sources, { period, unit, letters }))
  const table = doneTable(sources.weeks)
  const morningFacts = mornings(sessions)
  const baselineSessions = trends.swayRms.baselineSessions ?? USUAL_BASELINE
  const versions = [...new Set(sessions.flatMap(({ analysisVersion }) => analysisVersion ?? []))].sort()
  return {
    dogName: oneLine(dog.name),
    dogFacts: dogFacts(sources, request),
    demo: dog.demo,
    period: periodWords(period),
    writtenOn: dayWords(dayOf(now)),
    plan: applied.length === 0 ? ['No plan was given in Swaybook.'] : applied.map(planWords),
    inShort: inShort(setUps, { sessions, mornings: morningFacts.items[0], done: table?.totals ?? null }),
    setUps,
    otherSetUps: [],
    done: table,
    lists: [
      morningFacts,
      medication(sources.diary, period),
      events(sources.diary, period),
      signs(sessions, sources.notes),
      recordings(sessions, unit),
      notCounted(sessions, { sway: trends.swayRms, all: sources.sessions }),
    ],
    questions: request.questions.trim(),
    method: methodWords(baselineSessions, versions),
    cautions: CAUTIONS,
    whoToAsk: whoToAsk(applied.length === 0 ? null : shortened(oneLine(applied[0].plan.setBy), 50)),
    leftOut: '',
  }
}

/** "Lurcher · born 2016, about 10 years · 27 kg · 68 cm at the withers"; what nobody noted is named. */
function dogFacts({ dog }: ReportSources, { period, bodyUnits }: ReportRequest): string {
  const years = dog.bornYear === null ? null : Number(period.toDay.slice(0, 4)) - dog.bornYear
  const facts = [
    dog.breed === null || dog.breed === '' ? null : oneLine(dog.breed),
    years === null || years < 0 ? null : `born ${dog.bornYear}, about ${count(years, 'year')}`,
    dog.weightKg === null ? null : weight(dog.weightKg, bodyUnits),
    dog.withersCm === null ? null : `${height(dog.withersCm, bodyUnits)} at the withers`,
  ]
  const missing = ['breed', 'year of birth', 'weight', 'height'].filter((_, k) => facts[k] === null)
  return [...facts.filter(Boolean), ...(missing.length > 0 ? [`not noted: ${missing.join(', ')}`] : [])].join(
    ' · ',
  )
}

interface AppliedPlan {
  readonly plan: Plan
  /** First day of the period on which it applied. */
  readonly fromDay: string
}

/** The versions that applied on some day of the period, newest first. */
export function plansIn(period: Period, plans: readonly Plan[]): AppliedPlan[] {
  // Between the first days of versions and the days after their last ones nothing changes.
  const turns = plans.flatMap(({ validFrom, validUntil }) => [
    validFrom,
    ...(validUntil ? [addDays(validUntil, 1)] : []),
  ])
  const days = [period.fromDay, ...turns.filter((day) => day > period.fromDay && day <= period.toDay)].sort()
  const applied = new Map<number, AppliedPlan>()
  for (const day of days) {
    const plan = planInForce(plans, day)
    if (plan && !applied.has(plan.version)) applied.set(plan.version, { plan, fromDay: day })
  }
  return [...applied.values()].sort((a, b) => b.plan.version - a.plan.version)
}

function planWords({ plan }: AppliedPlan): string {
  const exercises = plan.exercises.map(({ setUp }) => oneLine(setUp.exercise)).join(', ')
  return (
    `Plan version ${plan.version} from ${dayWords(plan.validFrom)}, set by ${shortened(oneLine(plan.setBy), 50)}: ` +
    `${planLimits(plan).join(', ')}; ${exercises === '' ? 'no exercises' : exercises}`
  )
}

/** Below the axis of the pictures: M medication begins, E event, P another version of the plan. */
function lettersOf({ diary }: ReportSources, period: Period, applied: readonly AppliedPlan[]): Letter[] {
  const atMs = (day: string) => Date.parse(`${day}T00:00:00Z`)
  const noted = touching(diary, period).flatMap(({ kind, fromDate }) =>
    kind === 'note' ? [] : [{ atMs: atMs(fromDate), letter: kind === 'medication' ? 'M' : 'E' }],
  )
  const plans = applied
    .filter(({ plan, fromDay }) => plan.validFrom === fromDay)
    .map(({ fromDay }) => ({ atMs: atMs(fromDay), letter: 'P' }))
  return [...plans, ...noted]
}

function inShort(
  setUps: readonly SetUpFacts[],
  facts: { sessions: readonly SessionSummary[]; mornings: string; done: string | null },
): Told[] {
  if (facts.sessions.length === 0) {
    return [
      {
        label: 'No session',
        text: 'with a date lies in this period, so nothing below was measured. Choose another period, or give undated sessions their date.',
      },
    ]
  }
  const compared = setUps.map(({ title, figures }) => ({
    label: `${title}:`,
    text: verdictsInShort(figures),
  }))
  return [
    ...(compared.length === 0
      ? [{ label: 'Nothing to compare:', text: 'no dated session of the period has a noted set-up.' }]
      : compared),
    ...(facts.done === null ? [] : [{ label: 'Done:', text: facts.done }]),
    { label: 'Mornings after:', text: facts.mornings },
  ]
}

/** "sway steadier; tremor, best hold no change beyond noise": measures with the same verdict together. */
function verdictsInShort(figures: SetUpFacts['figures']): string {
  const byVerdict = new Map<string, string[]>()
  for (const { inWords, verdict } of figures) {
    if (verdict !== '–') byVerdict.set(verdict, [...(byVerdict.get(verdict) ?? []), inWords])
  }
  if (byVerdict.size === 0) return 'nothing measured that could be compared.'
  return `${[...byVerdict].map(([verdict, names]) => `${names.join(', ')}: ${verdict}`).join('; ')}.`
}
