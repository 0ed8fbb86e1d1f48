import { median } from 'simple-statistics'
import type { Plan, SessionSummary } from '#protocol/resources'
import type { TrendLine } from '#protocol/trends'
import type { Trend } from '#signal/trend/trend-types'
import { acceleration, accelerationScale, decimal } from '../format'
import type { AccelerationUnit } from '../format'
import { exerciseAims } from '../plan-words'
import { sameSetUp } from '../set-up'
import { spacingWords, surfaceWords } from '../wording'
import { figureRow } from './figures'
import { count } from './period'
import type { Period } from './period'
import type { SetUpFacts, Told } from './report-model'
import { REPORT_MEASURES } from './report-sources'
import type { ReportSources } from './report-sources'
import { trendPicture } from './trend-picture'
import type { Letter } from './trend-picture'

/** One set-up recorded with one kind of sensor. */
export function setUpFacts(
  line: TrendLine,
  { trends, plans, sessions }: Pick<ReportSources, 'trends' | 'plans' | 'sessions'>,
  { period, unit, letters }: { period: Period; unit: AccelerationUnit; letters: Letter[] },
): SetUpFacts {
  const { setUp, sensor, key, sessionIds } = line
  const own = new Set(sessionIds)
  const members = sessions.filter(({ id }) => own.has(id))
  const trendOf = (measure: (typeof REPORT_MEASURES)[number]) =>
    trends[measure].lines.find((other) => other.key === key)?.trend
  const known = REPORT_MEASURES.flatMap((measure) => {
    const trend = trendOf(measure)
    return trend ? [{ measure, trend }] : []
  })
  const sway = trendOf('swayRms')
  const tremor = trendOf('tremorRms')
  const compared = known.map(({ trend }) => trend).find(({ baseline }) => baseline !== null)
  const scale = accelerationScale(unit)
  return {
    key,
    title: capitalised(setUp.exercise),
    details: [
      // The usual name of an exercise ends with what the dog stands on.
      ...(setUp.exercise.includes(setUp.surface) ? [] : [setUp.surface]),
      ...surfaceWords(setUp),
      ...spacingWords(setUp),
      sensor === 'phone' ? 'phone in the harness' : 'harness sensor',
      count(sessionIds.length, 'session'),
      ...plannedWords(members, plans, line),
    ].join(' · '),
    sway: verdictTold('Sway', sway),
    tremor: withoutNotesOf(sway, verdictTold('Tremor', tremor)),
    figures: known.map(({ measure, trend }) => figureRow(measure, trend, unit)),
    columns: {
      first: compared ? `First ${compared.baseline!.sessions}` : 'First',
      newest: compared ? `Newest ${compared.change!.sessions}` : 'Newest',
    },
    picture: sway ? trendPicture(sway, { factor: scale.factor, unit: scale.name, period, letters }) : null,
    within: withinWords(members, line),
    noise: noiseWords(line, unit),
  }
}

const capitalised = (words: string) => words.charAt(0).toUpperCase() + words.slice(1)

/** The verdict as its first words, and the sentence with slope, interval, noise and number of sessions. */
function verdictTold(label: string, trend: Trend | undefined): Told {
  if (!trend) return { label: `${label}:`, text: 'not measured on this set-up.' }
  // The label names the measure already.
  const text = trend.sentence.replace(`${label}: `, '')
  return { label: `${label}: ${trend.verdict}.`, text: capitalised(text) }
}

/** What was not counted is told once when it is the same for both. */
function withoutNotesOf(sway: Trend | undefined, told: Told): Told {
  const from = sway?.sentence.search(/ (Not counted|Left out): /) ?? -1
  const notes = from < 0 ? '' : sway!.sentence.slice(from)
  if (notes === '' || !told.text.endsWith(notes)) return told
  return { ...told, text: `${told.text.slice(0, -notes.length)} Not counted: the same.` }
}

function plannedWords(
  members: readonly SessionSummary[],
  plans: readonly Plan[],
  { setUp }: TrendLine,
): string[] {
  const followed = members.findLast(({ planned }) => planned !== null)?.planned
  const plan = followed
    ? plans.find(({ version }) => version === followed.planVersion)
    : plans.find(({ exercises }) => exercises.some((exercise) => sameSetUp(exercise.setUp, setUp)))
  const exercise = plan?.exercises.find((one) =>
    followed ? one.id === followed.exerciseId : sameSetUp(one.setUp, setUp),
  )
  return plan && exercise ? [`planned: ${exerciseAims(exercise)} (plan ${plan.version})`] : []
}

/** Within sessions: the last repetition against the first, limits passed, what the sensor hides. */
function withinWords(members: readonly SessionSummary[], line: TrendLine): string {
  const ratios = members.flatMap(({ fatigueRatio }) => (fatigueRatio === null ? [] : [fatigueRatio]))
  const over = members.filter(({ planWarnings }) => (planWarnings ?? 0) > 0).length
  const hidden = line.belowSensor?.length ?? 0
  return [
    ratios.length === 0
      ? 'Within sessions no two repetitions could be compared.'
      : `Within a session the last repetition swayed ${decimal(median(ratios), 2)} × as much as the first (median of ${count(ratios.length, 'session')}).`,
    over > 0 ? `A limit was passed in ${count(over, 'session')}.` : 'No limit was passed.',
    ...(hidden > 0 ? [`Sway below what the sensor can measure in ${count(hidden, 'session')}.`] : []),
  ].join(' ')
}

/** The noise of single sessions, which the band of the picture shows. */
function noiseWords({ trend }: TrendLine, unit: AccelerationUnit): string {
  if (!trend.baseline) return ''
  const { mean, mdc95 } = trend.baseline
  const edge = (share: number) => acceleration(mean * (1 + share / 100), unit)
  const [low, high] = [edge(mdc95.fall), edge(mdc95.rise)]
  return `Grey band, the noise of single sessions: ${low.value} to ${high.value} ${high.unit}.`
}
