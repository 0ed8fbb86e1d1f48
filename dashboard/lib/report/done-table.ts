import type { DoseWeek } from '#protocol/dose-types'
import { decimal } from '../format'
import { count, dayWords } from './period'
import type { DoneTable } from './report-model'

/** A page has room for this many columns. */
export const MAX_COLUMNS = 18

const dayOfMonth = new Intl.DateTimeFormat(undefined, { day: 'numeric', timeZone: 'UTC' })
const month = new Intl.DateTimeFormat(undefined, { month: 'short', timeZone: 'UTC' })

/**
 * What was done against what was planned, whole calendar weeks, oldest first; null without a week. More weeks
 * than columns are taken together, as many to each column as it takes.
 */
export function doneTable(oldestFirst: readonly DoseWeek[]): DoneTable | null {
  if (oldestFirst.length === 0) return null
  const perColumn = Math.ceil(oldestFirst.length / MAX_COLUMNS)
  const groups: DoseWeek[][] = []
  for (let at = 0; at < oldestFirst.length; at += perColumn) {
    groups.push(oldestFirst.slice(at, at + perColumn))
  }
  const row = (name: string, rank: Rank, cell: (group: readonly DoseWeek[]) => string) => ({
    name,
    cells: groups.map(cell),
    rank,
  })
  const oncePerDay = oldestFirst.every(({ done: { days, sessions } }) => days === sessions)
  return {
    caption: perColumn === 1 ? 'Week from' : `${perColumn} weeks from`,
    columns: groups.map(([first]) => {
      const monday = new Date(`${first.monday}T00:00:00Z`)
      return { day: dayOfMonth.format(monday), month: month.format(monday) }
    }),
    rows: [
      row('Days done / planned', 'first', (group) => `${sum(group, done('days'))}/${planned(group) ?? '–'}`),
      row('Sessions', oncePerDay ? 'repeated' : 'second', (group) =>
        decimal(sum(group, done('sessions')), 0),
      ),
      row('Hands-off hold, min', 'first', handsOffMinutes),
      row('Sessions past a limit', 'second', (group) => orDot(sum(group, done('overLimit')))),
      row('Mornings tired / sore', 'first', troubledMornings),
    ],
    totals: totals(oldestFirst),
  }
}

type Rank = DoneTable['rows'][number]['rank']

const done = (name: 'days' | 'sessions' | 'overLimit') => (week: DoseWeek) => week.done[name]
const sum = (weeks: readonly DoseWeek[], of: (week: DoseWeek) => number) =>
  weeks.reduce((total, week) => total + of(week), 0)
const orDot = (number: number) => (number === 0 ? '·' : decimal(number, 0))

function troubledMornings(weeks: readonly DoseWeek[]): string {
  const [tired, sore] = [sum(weeks, (week) => week.checkIns.tired), sum(weeks, (week) => week.checkIns.sore)]
  return tired + sore === 0 ? '·' : `${tired}/${sore}`
}

/** Planned days of weeks that all have a number; null where one has none. */
function planned(weeks: readonly DoseWeek[]): number | null {
  return weeks.every(({ planned: { days } }) => days !== null)
    ? sum(weeks, ({ planned: { days } }) => days ?? 0)
    : null
}

function handsOffMinutes(weeks: readonly DoseWeek[]): string {
  const active = weeks.filter(({ done: { sessions } }) => sessions > 0)
  if (active.length === 0) return '·'
  if (active.some(({ done: { handsOffHoldS } }) => handsOffHoldS === null)) return '–'
  return decimal(sum(active, ({ done: { handsOffHoldS } }) => handsOffHoldS ?? 0) / 60, 1)
}

function totals(weeks: readonly DoseWeek[]): string {
  const days = sum(weeks, done('days'))
  const allowed = planned(weeks)
  const more = weeks.filter((week) => week.planned.days !== null && week.done.days > week.planned.days).length
  const current = weeks.at(-1)!.current ? ' (the last one is not over)' : ''
  const planWords =
    allowed === null
      ? 'the plan gives no number of days for every week'
      : `planned were up to ${count(allowed, 'day')}, ${more === 0 ? 'no week had more' : `${count(more, 'week')} had more`}`
  return (
    `${count(sum(weeks, done('sessions')), 'session')} on ${count(days, 'day')} in the ` +
    `${count(weeks.length, 'calendar week')} from ${dayWords(weeks[0].monday)}${current}; ${planWords}.`
  )
}
