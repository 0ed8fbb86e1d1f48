import { beforeAll, describe, expect, it, onTestFinished, vi } from 'vitest'
import type { DiaryEntry } from '#protocol/diary'
import type { Plan, SessionSummary } from '#protocol/resources'
import type { RepetitionNote } from '#protocol/session-review'
import type { TrendLine, Trends } from '#protocol/trends'
import { Demo } from '#server/demo/demo'
import { programmeTraces } from '#server/demo/programme-traces'
import { DEMO_COURSE } from '#signal/simulator/programme'
import type { MeasureName } from '#signal/trend/measures'
import { trendOf } from '#signal/trend/trend'
import { trendPointFrom } from '#signal/trend/trend-point'
import type { Trend } from '#signal/trend/trend-types'
import { buildApp } from '#server/app'
import type { App } from '#server/app'
import { call, testConfig } from '../helpers/build-app.ts'

// The sixteen weeks as any client would put them in, 64 traces uploaded and analysed: a minute or two.
const LONG_MS = 900_000
const TRUE_PERCENT_PER_4_WEEKS = 100 * (DEMO_COURSE.weeklyFactor ** 4 - 1)

describe('the demo, put in through the API of a running server', () => {
  let app: App
  let url: string
  let dogId: string
  let createdAtUs: number

  beforeAll(async () => {
    app = await buildApp(testConfig())
    url = await app.listen({ host: '127.0.0.1', port: 0 })
    const dog = (await call(app, { method: 'POST', url: '/api/demo' })).json<{
      id: string
      createdAt: string
    }>()
    dogId = dog.id
    createdAtUs = Date.parse(dog.createdAt) * 1000
    await vi.waitFor(
      async () => expect((await past()).filter(({ version }) => version > 1)).toHaveLength(64),
      { timeout: LONG_MS, interval: 1000 },
    )
    return () => app.close()
  }, LONG_MS)

  const get = async <T>(path: string): Promise<T> => {
    const response = await call(app, { url: path })
    expect(response.statusCode, path).toBe(200)
    return response.json<T>()
  }
  /** The uploaded sessions, oldest first. */
  const past = async () => {
    const { sessions } = await get<{ sessions: SessionSummary[] }>(`/api/sessions?dogId=${dogId}&limit=200`)
    return sessions.filter(({ fileName }) => fileName !== null).reverse()
  }
  const onPad = ({ setUp }: SessionSummary) => setUp?.surface === 'foam pad'

  /** The trend of a column of the session list. */
  function listTrend(sessions: readonly SessionSummary[], measure: 'swayRms' | 'tremorRms'): Trend {
    const points = sessions.map((session) =>
      trendPointFrom(
        {
          comparableSwayMs2: session.comparableSwayMs2,
          comparableTremorMs2: session.comparableTremorMs2,
          comparablePathRate: null,
          comparableJerk: null,
          comparableRatio: null,
          comparableWeak: false,
          comparableBasis: 'hands-off hold time',
          lookAlike: false,
          bestHoldS: session.bestHoldS,
          handsOffHoldS: session.handsOffHoldS,
          supportShare: session.supportShare,
        },
        {
          startedAtUs: Date.parse(session.startedAt!) * 1000,
          setUp: JSON.stringify(session.setUp),
          excluded: session.excluded !== null,
        },
        measure,
      ),
    )
    return trendOf(points, { measure, unstableSurfaceSinceUs: points[0].startedAtUs })
  }

  const holdsTruth = ({ slopePer4Weeks }: Trend) => {
    expect(slopePer4Weeks!.low).toBeLessThan(TRUE_PERCENT_PER_4_WEEKS)
    expect(slopePer4Weeks!.high).toBeGreaterThan(TRUE_PERCENT_PER_4_WEEKS)
  }

  it('shows the known truth in the session list: steadier on the foam pad, by the true slope', async () => {
    const foam = (await past()).filter(onPad)
    expect(foam).toHaveLength(56)
    const sway = listTrend(foam, 'swayRms')
    expect(sway).toMatchObject({ verdict: 'steadier', counted: 43 })
    holdsTruth(sway)
    expect(listTrend(foam, 'tremorRms').verdict).toBe('no change beyond noise')
  })

  it('shows it in the trends that people see, line by line', async () => {
    const lines = async (measure: MeasureName) =>
      (await get<Trends>(`/api/dogs/${dogId}/trends?measure=${measure}`)).lines
    const lineOn = (all: TrendLine[], surface: string) => all.find(({ setUp }) => setUp.surface === surface)!
    const sway = await lines('swayRms')
    expect(sway).toHaveLength(2)
    const [foam, rocker] = [lineOn(sway, 'foam pad'), lineOn(sway, 'rocker board')]
    expect(foam.trend.verdict).toBe('steadier')
    holdsTruth(foam.trend)
    expect(foam.familiarisation).not.toBeNull()
    expect(rocker.trend).toMatchObject({ verdict: 'too few sessions', counted: 5 })
    expect(rocker.trend.sentence).toContain('3 sessions in the first 3 weeks on this surface')
    const tremor = await lines('tremorRms')
    expect(lineOn(tremor, 'foam pad').trend.verdict).toBe('no change beyond noise')

    const left = foam.trend.sessions.filter(({ leftOut }) => leftOut === 'excluded by a person')
    expect(left).toHaveLength(1)

    // The bad fortnight, a third more sway: in the chart of what counts it turns the falling average up.
    const ewma = foam.ewma!.ewma
    const counted = foam.trend.sessions.filter(
      ({ part }) => part !== 'left out' && part !== 'familiarisation',
    )
    const weekOf = (startedAtUs: number) => {
      const firstUs = foam.trend.sessions[0].startedAtUs
      return 1 + Math.floor((startedAtUs - firstUs) / (7 * 86_400_000_000) + 0.1)
    }
    const lastOf = (week: number) => counted.findLastIndex((one) => weekOf(one.startedAtUs) === week)
    expect(ewma[lastOf(8)]).toBeGreaterThan(ewma[lastOf(6)])
    expect(ewma[lastOf(16)]).toBeLessThan(ewma[lastOf(6)])
  })

  it('holds the bad fortnight in the answers of the mornings, the notes and the diary', async () => {
    const sessions = await past()
    const traces = programmeTraces(createdAtUs).reverse()
    expect(sessions.map(({ fileName }) => fileName)).toEqual(traces.map(({ file }) => file))
    const answers = sessions.map(({ checkIn }) => checkIn?.answer ?? null)
    expect(answers.slice(0, 63)).toEqual(traces.slice(0, 63).map(({ checkIn }) => checkIn.answer))
    expect(answers[63]).toBeNull()
    expect(answers).toContain('better')
    const bad = answers.slice(24, 32)
    expect(bad.filter((answer) => answer === 'tired' || answer === 'sore').length).toBeGreaterThanOrEqual(4)

    const notes = async ({ id }: SessionSummary) =>
      get<RepetitionNote[]>(`/api/sessions/${id}/repetition-notes`)
    for (const session of sessions.slice(24, 32)) {
      const [first, last] = await notes(session)
      expect(first.atS).toBeLessThan(last.atS)
      expect(last.atS).toBeLessThan(session.durationS!)
      expect(last.signs.length).toBeGreaterThan(0)
    }

    const diary = await get<DiaryEntry[]>(`/api/dogs/${dogId}/diary`)
    const slip = diary.find(({ title }) => title === 'Slipped on the stairs')!
    expect(slip.fromDate < sessions[24].startedAt!).toBe(true)
    expect(slip.fromDate > sessions[22].startedAt!.slice(0, 10)).toBe(true)
    const relief = diary.find(({ kind }) => kind === 'medication')!
    expect(relief.untilDate! > relief.fromDate).toBe(true)
    const markers = (await get<Trends>(`/api/dogs/${dogId}/trends`)).markers
      .map(({ words }) => words)
      .join('; ')
    expect(markers).toContain('Slipped on the stairs')
    expect(markers).toContain('Pain relief as prescribed')
  })

  it('leaves one session out, with its reason, and has every set-up confirmed', async () => {
    const sessions = await past()
    const excluded = sessions.filter(({ excluded }) => excluded !== null)
    expect(excluded.map(({ excluded }) => excluded!.reason)).toEqual(['harness had slipped'])
    expect(excluded[0]).toBe(sessions[41])
    expect(sessions.every(({ setUpConfirmedAt }) => setUpConfirmedAt !== null)).toBe(true)
    const { notes } = await get<SessionSummary>(`/api/sessions/${sessions[0].id}`)
    expect(notes).toContain('First time on the pad')
    expect(sessions[0].setUp).toEqual({
      exercise: 'stand on foam pad',
      surface: 'foam pad',
      foreToHindCm: 52,
      heightCm: 6,
      firmness: 'medium',
      unstable: true,
    })
  })

  it('has a plan of two versions: the rocker board joins on the first day of the ninth week', async () => {
    const [second, first] = await get<Plan[]>(`/api/dogs/${dogId}/plans`)
    expect(first.exercises.map(({ id }) => id)).toEqual(['foam-stand'])
    expect(second.exercises.map(({ id }) => id)).toEqual(['foam-stand', 'rocker-fore-paws'])
    const sessions = await past()
    expect(first.validFrom).toBe(sessions[0].startedAt!.slice(0, 10))
    expect(second.validFrom).toBe(sessions[32].startedAt!.slice(0, 10))
    for (const { setUp } of sessions) {
      const plan = setUp!.surface === 'foam pad' ? second.exercises[0] : second.exercises[1]
      expect(setUp).toEqual(plan.setUp)
    }
  })

  it(
    'adds nothing when it is started again, and takes nothing back that a person changed',
    async () => {
      const before = await past()
      const excluded = before.find((session) => session.excluded !== null)!
      const headers = { 'if-match': `"${excluded.version}"` }
      const change = { method: 'PATCH' as const, url: `/api/sessions/${excluded.id}`, headers }
      expect((await call(app, { ...change, payload: { excluded: null } })).statusCode).toBe(200)

      const again = new Demo(url, app.log)
      onTestFinished(() => again.stop())
      expect((await again.start()).id).toBe(dogId)
      await again.pastIsThere()
      const after = await past()
      expect(after.map(({ id, version }) => [id, version])).toEqual(
        before.map(({ id, version }) => [id, id === excluded.id ? version + 1 : version]),
      )
      expect(after.every((session) => session.excluded === null)).toBe(true)
      expect(await get(`/api/dogs/${dogId}/diary`)).toHaveLength(6)
      expect(await get(`/api/dogs/${dogId}/plans`)).toHaveLength(2)
      expect(await get('/api/dogs')).toHaveLength(1)
    },
    LONG_MS,
  )
})
