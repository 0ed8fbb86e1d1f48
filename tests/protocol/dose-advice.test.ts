import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { cutBackPlan, cutBackWords } from '#protocol/cut-back'
import { doseAdvice, lastAnswer, missingCheckIn } from '#protocol/dose-advice'
import type { DoseInput } from '#protocol/dose-weeks'
import type { CheckIn, Plan, SessionSummary } from '#protocol/resources'
import { anyPlan, anySession } from '../dashboard/fakes/records.ts'

type Answer = CheckIn['answer']

/** Thursday noon. */
const NOW = new Date('2026-03-05T12:00:00Z')
const daysAgo = (days: number, extra: Partial<SessionSummary> = {}): SessionSummary => {
  const startedAt = new Date(NOW.getTime() - days * 86_400_000).toISOString()
  return { ...anySession(), id: `${days} days ago`, startedAt, ...extra }
}
const answered = (days: number, answer: Answer, extra: Partial<SessionSummary> = {}) =>
  daysAgo(days, { checkIn: { answer, note: null, at: NOW.toISOString(), version: 1 }, ...extra })
const input = (
  sessions: readonly SessionSummary[],
  plans: readonly Plan[] = [anyPlan()],
  more: Partial<DoseInput> = {},
): DoseInput => ({ sessions, plans, timeZone: 'UTC', now: NOW, ...more })
const kinds = (given: DoseInput) => doseAdvice(given).map(({ kind }) => kind)

describe('cutting back', () => {
  test('halves what the plan allows, never below one repetition, and leaves open what it leaves open', () => {
    const plan = { ...anyPlan(), sessionCapS: 245, sessionsPerDay: 3 }
    const half = cutBackPlan(plan)
    expect(half.exercises.map(({ repetitions, holdTargetS }) => [repetitions, holdTargetS])).toEqual([
      [1, 4],
      [1, 2.5],
    ])
    expect([half.sessionCapS, half.sessionsPerDay]).toEqual([122, 1])
    const open = { ...plan.exercises[0], repetitions: null, holdTargetS: null }
    const none = cutBackPlan({ ...plan, exercises: [open], sessionCapS: null, sessionsPerDay: null })
    expect(none).toMatchObject({ exercises: [open], sessionCapS: null, sessionsPerDay: null })
    expect([half.stopRules, half.daysPerWeek]).toEqual([plan.stopRules, plan.daysPerWeek])
  })

  test('says each number beside the plan’s own, exercise by exercise when they differ', () => {
    expect(cutBackWords(anyPlan())).toBe(
      "stand on foam pad: at most 1 of the plan's 3 repetitions, holds of 4 instead of 8 s; " +
        "fore paws on rocker board: at most 1 of the plan's 2 repetitions, holds of 2.5 instead of 5 s; " +
        "no longer than 2:30 of the plan's 5:00 min",
    )
    const one = {
      ...anyPlan(),
      exercises: [{ ...anyPlan().exercises[0], repetitions: 1 }],
      sessionsPerDay: 2,
    }
    expect(cutBackWords(one)).toBe(
      "no more than the one repetition of the plan, holds of 4 instead of 8 s, no longer than 2:30 of the plan's " +
        "5:00 min, at most 1 of the plan's 2 sessions a day",
    )
    expect(cutBackWords(null)).toContain('than last time')
  })

  test.each([
    [0.01, 'holds of 0.005 instead of 0.01 s'],
    [0.05, 'holds of 0.025 instead of 0.05 s'],
    [0.003, 'holds of 0.0015 instead of 0.003 s'],
    [0.25, 'holds of 0.12 instead of 0.25 s'],
    [7.5, 'holds of 3.75 instead of 7.5 s'],
  ])('never cuts a hold of %s s back to none, nor to more than half', (holdTargetS, words) => {
    const one = { ...anyPlan(), exercises: [{ ...anyPlan().exercises[0], holdTargetS }] }
    expect(cutBackWords(one)).toContain(words)
  })
})

describe('advice', () => {
  test('after "tired" cuts back in numbers of the plan in force, with both bases', () => {
    const [advice, ...rest] = doseAdvice(input([answered(1, 'tired')]))
    expect(rest).toEqual([])
    expect(advice.kind).toBe('cut back')
    expect(advice.text).toMatch(/^Tired after the session of 4 March 2026: cut back today, or leave it out: /)
    expect(advice.text).toContain("at most 1 of the plan's 3 repetitions")
    expect(advice.basis).toBe('plan version 2, set by Rowan Vale; halving is common practice, no source')
  })

  test('after "sore" rests and asks first; the numbers are for when the therapist says to go on', () => {
    const [rest, less] = doseAdvice(input([answered(1, 'sore')]))
    expect(rest).toMatchObject({ kind: 'rest', basis: 'common practice, no source' })
    expect(rest.text).toContain('Ask the therapist or the vet before the next session')
    expect(less.text).toMatch(/^When they say to go on, cut back: /)
  })

  test('is nothing after "normal" or "better": a good morning is no reason to do more', () => {
    expect(kinds(input([answered(1, 'normal')]))).toEqual([])
    expect(kinds(input([answered(1, 'better'), answered(2, 'better'), answered(3, 'better')]))).toEqual([])
    expect(kinds(input([]))).toEqual([])
  })

  test.each<[Answer[], string[]]>([
    [
      ['tired', 'tired'],
      ['ask', 'cut back'],
    ],
    [
      ['tired', 'normal', 'normal', 'sore'],
      ['ask', 'cut back'],
    ],
    [['normal', 'sore', 'normal', 'tired'], ['ask']],
    [['normal', 'tired', 'normal', 'normal', 'tired'], []],
    [
      ['sore', 'normal', 'normal', 'normal', 'sore'],
      ['rest', 'cut back'],
    ],
    [['better', 'sore', 'sore'], ['ask']],
  ])('after %j, newest first, is %j', (answers, expected) => {
    expect(kinds(input(answers.map((answer, k) => answered(k + 1, answer))))).toEqual(expected)
  })

  test('one morning after several sessions of a day counts by the worst said of it', () => {
    const morning = daysAgo(1)
    const evening = new Date(Date.parse(morning.startedAt!) + 9 * 3_600_000).toISOString()
    const said = (answer: Answer) => ({ answer, note: null, at: NOW.toISOString(), version: 1 })
    for (const state of ['finished', 'failed'] as const) {
      const sessions = [
        { ...morning, id: 'morning', checkIn: said('sore') },
        { ...morning, id: 'evening', startedAt: evening, state, checkIn: said('normal') },
      ]
      expect(lastAnswer(input(sessions))).toMatchObject({ answer: 'sore', session: { id: 'morning' } })
      expect(kinds(input(sessions)).slice(0, 2)).toEqual(['rest', 'cut back'])
    }
    const better = [answered(1, 'better'), answered(2, 'sore')]
    expect(lastAnswer(input(better))?.answer).toBe('better')
  })

  test('goes on from the newest answer when a session between has none, and asks for that one', () => {
    const given = input([daysAgo(1), answered(2, 'tired'), daysAgo(3), answered(4, 'sore')])
    expect(kinds(given)).toEqual(['ask', 'cut back', 'check in'])
    expect(doseAdvice(given).at(-1)?.sessionId).toBe('1 days ago')
    expect(lastAnswer(given)).toMatchObject({ answer: 'tired', troubled: 2, of: 2 })
  })

  test('cuts back after several limits passed or signs of fatigue in the last session, whatever the morning', () => {
    const signs = (extra: Partial<SessionSummary>) => kinds(input([answered(1, 'better', extra)]))
    expect(signs({ planWarnings: 1 })).toEqual([])
    expect(signs({ fatigueSigns: 1 })).toEqual([])
    expect(signs({ planWarnings: 2 })).toEqual(['cut back'])
    expect(signs({ planWarnings: 1, fatigueSigns: 1 })).toEqual(['cut back'])
    expect(doseAdvice(input([answered(1, 'tired', { planWarnings: 1, fatigueSigns: 2 })]))[0].text).toContain(
      'Tired after the session of 4 March 2026; 1 limit passed and 2 signs of fatigue in the session of 4 March 2026',
    )
    // Of an earlier session it says nothing any more.
    expect(kinds(input([answered(1, 'normal'), answered(2, 'normal', { planWarnings: 3 })]))).toEqual([])
  })

  test('asks when this week had more than the plan, and says nothing when it had less', () => {
    const three = [answered(1, 'normal'), answered(2, 'normal'), answered(3, 'normal')]
    const few = [{ ...anyPlan(), daysPerWeek: 2 }]
    expect(doseAdvice(input(three, few))).toEqual([
      {
        kind: 'ask',
        text: 'More than the plan this week: 3 days with sessions, the plan says 2. Rest, and ask the therapist.',
        basis: 'plan version 2, set by Rowan Vale',
      },
    ])
    expect(kinds(input(three.slice(0, 1), few))).toEqual([])
  })

  test('asks what applies once the plan has ended, and takes no number from it', () => {
    const ended = [{ ...anyPlan(), validUntil: '2026-03-01' }]
    const [less, ask] = doseAdvice(input([answered(1, 'tired')], ended))
    expect(less.text).toContain('than last time')
    expect(less.text).not.toContain('3 repetitions')
    expect(ask).toMatchObject({ kind: 'ask', basis: 'plan version 2, set by Rowan Vale' })
    expect(ask.text).toContain('The plan ended on 1 March 2026')
  })

  test('leaves out simulated sessions, but for the demo dog', () => {
    const simulated = answered(1, 'sore', { sensor: 'simulated harness', fileName: null })
    expect(kinds(input([simulated]))).toEqual([])
    expect(kinds(input([simulated], [anyPlan()], { played: true }))).toEqual(['rest', 'cut back'])
  })
})

describe('the check-in', () => {
  test('is asked from the day after the session on in the person’s zone, for a week', () => {
    expect(missingCheckIn(input([daysAgo(0)]))).toBeNull()
    expect(missingCheckIn(input([daysAgo(1), daysAgo(2)]))?.id).toBe('1 days ago')
    expect(missingCheckIn(input([daysAgo(7)]))?.id).toBe('7 days ago')
    expect(missingCheckIn(input([daysAgo(8)]))).toBeNull()
    // 00:30 on Thursday in Kathmandu (+05:45) is Wednesday 18:45 in UTC.
    const evening = daysAgo(0, { startedAt: '2026-03-04T18:00:00Z' })
    const now = new Date('2026-03-04T18:45:00Z')
    expect(missingCheckIn(input([evening], [], { now }))).toBeNull()
    expect(missingCheckIn(input([evening], [], { now, timeZone: 'Asia/Kathmandu' }))).toBe(evening)
  })

  test('is asked after a recording that failed too: the dog may have done the work', () => {
    expect(missingCheckIn(input([daysAgo(1, { state: 'failed' })]))).not.toBeNull()
    expect(missingCheckIn(input([daysAgo(1, { state: 'recording' })]))).toBeNull()
  })
})

/** Words with which somebody could be told to do more. */
const MORE =
  /\b(do more|add|adds|increase|raise|progress|harder|longer holds|longer than the plan|more repetitions|catch up|make up|keep it up|well done|streak|goal|next level|go further)\b/i

const answers = fc.constantFrom<Answer>('better', 'normal', 'tired', 'sore')
const histories = fc.array(
  fc.record({
    hoursAgo: fc.integer({ min: 0, max: 24 * 60 }),
    answer: fc.option(answers),
    planWarnings: fc.option(fc.integer({ min: 0, max: 5 })),
    fatigueSigns: fc.integer({ min: 0, max: 6 }),
    state: fc.constantFrom('finished', 'failed', 'analysing', 'recording'),
  }),
  { maxLength: 30 },
)
const plans = fc.array(
  fc.record({
    repetitions: fc.array(fc.option(fc.integer({ min: 1, max: 100 })), { minLength: 1, maxLength: 3 }),
    holdTargetS: fc.option(fc.double({ min: 0.5, max: 600, noNaN: true })),
    sessionCapS: fc.option(fc.double({ min: 10, max: 7200, noNaN: true })),
    sessionsPerDay: fc.option(fc.integer({ min: 1, max: 10 })),
    daysPerWeek: fc.option(fc.integer({ min: 1, max: 7 })),
    beganDaysAgo: fc.integer({ min: -10, max: 90 }),
    lastsDays: fc.option(fc.integer({ min: 0, max: 60 })),
  }),
  { maxLength: 3 },
)

describe('whatever the history', () => {
  test('no line says more than the plan, and every line has its basis', () => {
    const day = (ago: number) => new Date(NOW.getTime() - ago * 86_400_000).toISOString().slice(0, 10)
    fc.assert(
      fc.property(
        histories,
        plans,
        fc.constantFrom('UTC', 'Pacific/Apia', 'Asia/Kathmandu'),
        (history, made, timeZone) => {
          const sessions = history.map(({ hoursAgo, answer, ...extra }, k) => ({
            ...anySession(),
            ...extra,
            state: extra.state as SessionSummary['state'],
            id: `s${k}`,
            startedAt: new Date(NOW.getTime() - hoursAgo * 3_600_000).toISOString(),
            checkIn: answer && { answer, note: null, at: NOW.toISOString(), version: 1 },
          }))
          const versions = made.map(
            ({ repetitions, holdTargetS, beganDaysAgo, lastsDays, ...limits }, k) => ({
              ...anyPlan(),
              ...limits,
              version: k + 1,
              validFrom: day(beganDaysAgo),
              validUntil: lastsDays === null ? null : day(beganDaysAgo - lastsDays),
              exercises: repetitions.map((count, n) => ({
                ...anyPlan().exercises[0],
                id: `e${n}`,
                repetitions: count,
                holdTargetS,
              })),
            }),
          )
          for (const { text, basis } of doseAdvice(input(sessions, versions, { timeZone }))) {
            expect(text).not.toMatch(MORE)
            expect(basis).toMatch(/common practice, no source|^plan version \d+, set by /)
            // Whatever is said to be allowed today stands before the plan's own number, and is no larger.
            for (const [, less, allowed] of text.matchAll(/at most (\d+) of the plan's (\d+)/g)) {
              expect(Number(less)).toBeLessThanOrEqual(Number(allowed))
              expect(Number(less)).toBeGreaterThanOrEqual(1)
            }
            for (const [, less, allowed] of text.matchAll(/holds of ([\d.]+) instead of ([\d.]+)/g)) {
              expect(Number(less)).toBeLessThanOrEqual(Number(allowed))
            }
          }
          for (const plan of versions) expectNoLarger(cutBackPlan(plan), plan)
        },
      ),
      { seed: 20260305, numRuns: 400 },
    )
  })
})

function expectNoLarger(less: Plan, plan: Plan) {
  const numbers = ({ exercises, sessionCapS, sessionsPerDay, daysPerWeek }: Plan) => [
    ...exercises.flatMap(({ repetitions, holdTargetS }) => [repetitions, holdTargetS]),
    sessionCapS,
    sessionsPerDay,
    daysPerWeek,
  ]
  numbers(less).forEach((value, k) => {
    const allowed = numbers(plan)[k]
    if (allowed === null) expect(value).toBeNull()
    else expect(value).toBeLessThanOrEqual(allowed)
  })
}
