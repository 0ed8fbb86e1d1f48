import { describe, expect, it } from 'vitest'
import { doseWeeks } from '#protocol/dose-weeks'
import { REPORT_MEASURES } from '../../dashboard/lib/report/report-sources.ts'
import type { ReportMeasure, ReportSources } from '../../dashboard/lib/report/report-sources.ts'
import { LAST_CUT, paperReport } from '../../dashboard/lib/report/paper-report.ts'
import { vetReport } from '../../dashboard/lib/report/vet-report.ts'
import type { Trends } from '#protocol/trends'
import { madeCourse, madeDog, madeSession, madeStoredPlan, trendsOfMade } from '../helpers/made-report.ts'

const PERIOD = { fromDay: '2026-08-06', toDay: '2026-11-25' }
const NOW = new Date('2026-11-25T18:00:00Z')
const FOAM = { exercise: 'stand on foam pad', surface: 'foam pad' }
const ROCKER = { exercise: 'fore paws on rocker board', surface: 'rocker board' }

function usualSessions() {
  return [
    ...madeCourse(FOAM, { seed: 'foam', lastDay: '2026-11-24', weeks: 16 }),
    ...madeCourse(ROCKER, { seed: 'rocker', lastDay: '2026-11-23', weeks: 2, everyDays: 4 }),
    madeSession('undated', { setUp: FOAM, fileName: 'trace.csv', comparableSwayMs2: 9 }),
  ]
}

function sources(sessions = usualSessions()): ReportSources {
  const records = { dog: madeDog(), sessions }
  const days = { from: PERIOD.fromDay, to: PERIOD.toDay }
  const plans = [
    madeStoredPlan(2, { validFrom: '2026-10-05' }),
    madeStoredPlan(1, { validFrom: '2026-08-01' }),
  ]
  return {
    ...records,
    plans,
    trends: Object.fromEntries(
      REPORT_MEASURES.map((measure) => [measure, trendsOfMade(records, measure, days)]),
    ) as Record<ReportMeasure, Trends>,
    weeks: doseWeeks({ sessions, plans, timeZone: 'UTC', now: NOW, played: false }, 16).reverse(),
    diary: [],
    notes: new Map(),
  }
}

const made = sources()
const request = {
  period: PERIOD,
  questions: 'May she swim?',
  now: NOW,
  unit: 'si',
  bodyUnits: 'metric',
} as const
const report = vetReport(made, request)

describe('the report', () => {
  it('tells the sentences and the numbers of the trends of the same period', () => {
    expect(report.setUps).toHaveLength(2)
    for (const facts of report.setUps) {
      const line = made.trends.swayRms.lines.find(({ key }) => key === facts.key)!
      const sentence = line.trend.sentence.replace(/^Sway: /, '')
      expect(facts.sway.text).toBe(sentence.charAt(0).toUpperCase() + sentence.slice(1))
      expect(facts.sway.label).toBe(`Sway: ${line.trend.verdict}.`)
      expect(facts.figures[0].n).toBe(String(line.trend.counted))
    }
    const foam = made.trends.swayRms.lines.find(({ setUp }) => setUp.exercise === FOAM.exercise)!.trend
    const row = report.setUps.find(({ title }) => title === 'Stand on foam pad')!.figures[0]
    // In mm/s² with three digits: within half of the last one.
    expect(Math.abs(Number(row.newest) - 1000 * foam.change!.newest)).toBeLessThanOrEqual(0.5)
    expect(Math.abs(Number(row.first) - 1000 * foam.baseline!.mean)).toBeLessThanOrEqual(0.5)
    const told = [...row.detectable.replaceAll('−', '-').matchAll(/[-+]?[\d.]+/g)].map(Number)
    expect(Math.abs(told[0] - foam.change!.limits.fall)).toBeLessThanOrEqual(0.5)
    expect(Math.abs(told[1] - foam.change!.limits.rise)).toBeLessThanOrEqual(0.5)
  })

  it('names both versions of the plan with their exercises, and the undated session', () => {
    expect(report.plan).toHaveLength(2)
    expect(report.plan[0]).toMatch(/^Plan version 2 from 5 Oct 2026|^Plan version 2 from Oct 5, 2026/)
    expect(report.lists.find(({ id }) => id === 'notCounted')!.items.join()).toContain(
      '1 session without a date',
    )
    expect(JSON.stringify(report.setUps)).not.toContain('9000')
  })
})

describe('the report of a dog with', () => {
  it('a phone only says so at its set-up and among the recordings', () => {
    const sessions = madeCourse(FOAM, { seed: 'p', lastDay: '2026-11-24', weeks: 12, sensor: 'phone' })
    const { setUps, lists } = vetReport(sources(sessions), request)
    expect(setUps).toHaveLength(1)
    expect(setUps[0].details).toContain('phone in the harness')
    expect(lists.find(({ id }) => id === 'recordings')!.items.join()).toContain(
      `phone in the harness ${sessions.length}`,
    )
  })

  it('undated sessions only compares nothing and says why', () => {
    const sessions = [madeSession('undated', { setUp: FOAM, fileName: 'trace.csv' })]
    const { inShort, setUps } = vetReport(sources(sessions), request)
    expect(setUps).toEqual([])
    expect(inShort.map(({ label }) => label)).toEqual(['No session'])
  })
})

describe('the page of a report', () => {
  it('leaves nothing out without a cut', () => {
    expect(paperReport(report, 0).leftOut).toBe('')
  })

  it('keeps verdicts, method and cautions through every cut, and never grows', () => {
    let before = Infinity
    for (let cuts = 0; cuts <= LAST_CUT; cuts++) {
      const page = paperReport(report, cuts)
      expect(page.method).toEqual(report.method)
      expect(page.cautions).toBe(report.cautions)
      const told = [...page.setUps.map(({ sway }) => sway.label), ...page.otherSetUps]
      expect(told[0]).toContain('Sway: ')
      const length = JSON.stringify({ ...page, leftOut: '' }).length
      expect(length).toBeLessThanOrEqual(before)
      before = length
    }
  })

  it('gives up what is told twice before anything told once', () => {
    const firstLoss = Array.from({ length: LAST_CUT }, (_, k) => k).find(
      (cuts) => paperReport(report, cuts).leftOut !== '',
    )!
    const page = paperReport(report, firstLoss)
    expect(page.setUps).toHaveLength(2)
    expect(page.plan).toHaveLength(2)
    expect(page.inShort).toEqual(report.inShort)
    expect(page.setUps.map(({ figures }) => figures)).toEqual(report.setUps.map(({ figures }) => figures))
  })
})
