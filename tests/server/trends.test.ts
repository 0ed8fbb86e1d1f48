import { parse } from 'csv-parse/sync'
import Papa from 'papaparse'
import { describe, expect, it } from 'vitest'
import type { SessionSummary, SetUp } from '#protocol/resources'
import type { Trends } from '#protocol/trends'
import type { App } from '#server/app'
import { trendOf } from '#signal/trend/trend'
import { addDog, call, temporaryDir, testApp } from '../helpers/build-app.ts'
import { course, DAY_US, storeSessions } from '../helpers/stored-sessions.ts'
import type { MadeSession } from '../helpers/stored-sessions.ts'

/** Monday 2026-01-05, µs. */
const START_US = Date.UTC(2026, 0, 5) * 1000
const FOAM: SetUp = { exercise: 'stand', surface: 'foam pad', heightCm: 6, foreToHindCm: 45 }
const FLOOR: SetUp = { exercise: 'stand', surface: 'living room floor' }
const JUNIPER = { id: 'juniper', name: 'Juniper' }

type Insert = Parameters<typeof storeSessions>[3]

async function appWith(sessions: readonly MadeSession[], dog = JUNIPER, more?: Insert): Promise<App> {
  const dataDir = await temporaryDir()
  await storeSessions(dataDir, dog, sessions, more)
  return testApp({ dataDir })
}

async function trendsFrom(app: App, query = ''): Promise<Trends> {
  const response = await call(app, { url: `/api/dogs/juniper/trends${query}` })
  expect(response.statusCode, response.body).toBe(200)
  return response.json<Trends>()
}

const falling = (changes: Partial<Parameters<typeof course>[0]> = {}) =>
  course({
    seed: 'fall',
    startUs: START_US,
    days: 140,
    sessionsPerDay: 1,
    setUp: FOAM,
    per4Weeks: 0.85,
    ...changes,
  })

/** One session a day on the foam pad, counted from day 0, each as told. */
const days = (count: number, each: (day: number) => Partial<MadeSession> = () => ({})): MadeSession[] =>
  Array.from({ length: count }, (_, day) => ({
    id: `s${day}`,
    startedAtUs: START_US + day * DAY_US,
    setUp: FOAM,
    columns: { comparable_sway_ms2: 0.1 + 0.001 * (day % 4) },
    ...each(day),
  }))

describe('/api/dogs/:dogId/trends', () => {
  it('says what trendOf says of the points of the session list', async () => {
    const app = await appWith(falling())
    const page = await call(app, { url: '/api/sessions?dogId=juniper&limit=500' })
    const list = page.json<{ sessions: SessionSummary[] }>().sessions
    const weak = new Set(
      falling()
        .filter(({ columns }) => columns?.comparable_weak === 1)
        .map(({ id }) => id),
    )
    const points = list.map((session) => ({
      startedAtUs: Date.parse(session.startedAt!) * 1000,
      setUp: 'foam',
      value: session.comparableSwayMs2,
      weak: weak.has(session.id),
      lookAlike: false,
      excluded: false,
      basis: 'hands-off hold time' as const,
    }))
    const expected = trendOf(points, {
      measure: 'swayRms',
      unstableSurfaceSinceUs: points.at(-1)!.startedAtUs,
    })
    const { lines, unit, label } = await trendsFrom(app)
    expect([unit, label, lines.length]).toEqual(['m/s²', 'Sway', 1])
    const [{ trend, sessionIds, key }] = lines
    // 15 % a 4 weeks less over 20 weeks stands out of 15 % noise.
    expect(trend.verdict).toBe('steadier')
    expect(trend.sentence).toBe(expected.sentence)
    expect(trend.slopePer4Weeks).toEqual(expected.slopePer4Weeks)
    expect(trend.mannKendall).toEqual(expected.mannKendall)
    expect(trend.baseline).toEqual(expected.baseline)
    expect(trend.change).toEqual(expected.change)
    expect(trend.weekly).toEqual(expected.weekly)
    expect(trend.sessions.map(({ value, part, leftOut }) => ({ value, part, leftOut }))).toEqual(
      expected.sessions.map(({ value, part, leftOut }) => ({ value, part, leftOut })),
    )
    expect(new Set(trend.sessions.map(({ setUp }) => setUp))).toEqual(new Set([key]))
    expect(sessionIds).toEqual(list.map(({ id }) => id).reverse())
  })

  it('joins spellings of one set-up, and keeps apart what differs in anything or in the kind of sensor', async () => {
    const setUps: SetUp[] = [
      { exercise: 'Stand', surface: ' foam  pad ', heightCm: 6, foreToHindCm: 45 },
      FOAM,
      { ...FOAM, heightCm: 8 },
      { ...FOAM, firmness: 'soft' },
      { ...FOAM, foreToHindCm: 50 },
      { ...FOAM, leftToRightCm: 20 },
      { ...FOAM, exercise: 'sit to stand' },
      { ...FOAM, unstable: true },
    ]
    const sessions = days(setUps.length + 2, (day) => ({
      setUp: setUps[day] ?? FOAM,
      sensor: ['phone', 'upload'][day - setUps.length] ?? 'bluetooth',
    }))
    const { lines } = await trendsFrom(await appWith(sessions))
    expect(lines.map(({ sessionIds }) => sessionIds).sort((a, b) => b.length - a.length)).toEqual([
      ['s0', 's1', 's7', 's9'],
      ...['s2', 's3', 's4', 's5', 's6', 's8'].map((id) => [id]),
    ])
    expect(lines.find(({ sessionIds }) => sessionIds.includes('s8'))).toMatchObject({ sensor: 'phone' })
    const again = await trendsFrom(await appWith(sessions.slice(2)))
    expect(again.lines.map(({ key }) => key).sort()).toEqual(lines.map(({ key }) => key).sort())
  })

  it('counts what is in no line with its reason, and what is simulated only for the invented dog', async () => {
    const sessions = days(
      6,
      (day) =>
        [
          { setUp: null },
          { startedAtUs: null },
          { sensor: 'simulated harness' },
          { sensor: 'replay' },
          { columns: { state: 'failed' as const } },
          {},
        ][day],
    )
    const { lines, notCompared } = await trendsFrom(await appWith(sessions))
    expect(lines.map(({ sessionIds }) => sessionIds)).toEqual([['s5']])
    expect(new Map(notCompared.map(({ reason, sessionIds }) => [reason, sessionIds]))).toEqual(
      new Map([
        ['no set-up noted', ['s0']],
        ['no date', ['s1']],
        ['played or simulated', ['s3', 's2']],
        ['not analysed', ['s4']],
      ]),
    )
    const demo = await trendsFrom(await appWith(sessions, { ...JUNIPER, demo: true } as typeof JUNIPER))
    expect(demo.lines[0].sessionIds).toEqual(['s2', 's3', 's5'])
  })

  it('leaves out what a person set aside, and a value that the steps of the sensor hide, but not a hold time', async () => {
    // Widrow & Kollár: rounding noise step/√12 on each of two axes; 0.3 m/s² steps hide sway under 0.245 m/s².
    const sessions = days(12, (day) => ({
      ...(day === 4 && { columns: { comparable_sway_ms2: 0.9, excluded_reason: 'a thunderstorm' } }),
      ...(day === 7 && { resolutionMs2: 0.3 }),
      ...(day === 8 && { resolutionMs2: 0.01 }),
    }))
    const app = await appWith(sessions)
    const [line] = (await trendsFrom(app)).lines
    const parts = line.trend.sessions.map(({ leftOut }) => leftOut)
    expect(parts.filter((reason) => reason !== null)).toEqual(['excluded by a person', 'no value'])
    expect(line.excludedBecause).toEqual({ s4: 'a thunderstorm' })
    expect(line.belowSensor).toEqual(['s7'])
    const [holds] = (await trendsFrom(app, '?measure=bestHoldS')).lines
    expect(holds.belowSensor).toBeUndefined()
    expect(holds.trend.sessions[7]).toMatchObject({ value: 9, leftOut: null })
  })

  it('takes three weeks from the first stand on a surface that gives as familiarisation, and says on what basis', async () => {
    const other = (id: string, day: number, setUp: SetUp): MadeSession => ({
      id,
      startedAtUs: START_US + day * DAY_US,
      setUp,
    })
    const cases: [SetUp, string | null, RegExp][] = [
      [
        { exercise: 'stand', surface: 'foam pad' },
        '2026-01-05',
        /^Nobody noted whether it gives; taken as one/,
      ],
      [
        { exercise: 'stand', surface: 'wobble board', unstable: true },
        '2026-01-05',
        /^Noted as a surface that gives/,
      ],
      [
        { exercise: 'stand', surface: 'foam pad, old', unstable: false },
        null,
        /^Noted as a surface that does not give/,
      ],
      [FLOOR, null, /reads as plain ground/],
      ...[
        'foam pad on the floor',
        'cushions on carpet',
        'floor pads',
        'discs on floor',
        'mattresses on floor',
        'floor, peanuts',
        'two boards on tiles',
      ].map((surface): [SetUp, string, RegExp] => [
        { exercise: 'stand', surface },
        '2026-01-05',
        /taken as one/,
      ]),
      [
        { exercise: 'stand', surface: 'carpet', unstable: true },
        '2026-01-05',
        /^Noted as a surface that gives/,
      ],
    ]
    for (const [setUp, fromDate, basis] of cases) {
      // The same surface first, in another exercise, as long before as half the weeks.
      const sessions = [other('first', 0, { ...setUp, exercise: 'sit' }), other('later', 10, setUp)]
      const { lines } = await trendsFrom(await appWith(sessions))
      const line = lines.find(({ sessionIds }) => sessionIds[0] === 'later')!
      const until = fromDate && { fromDate, untilDate: '2026-01-25' }
      expect(line.familiarisation, setUp.surface).toEqual(until)
      expect(line.familiarisationBasis).toMatch(basis)
      expect(line.trend.sessions[0].part, setUp.surface).toBe(fromDate ? 'familiarisation' : 'later')
    }
  })

  it('does not begin familiarisation anew when the firmness of a known surface is noted later', async () => {
    const soft: SetUp = { ...FOAM, firmness: 'soft' }
    const { lines } = await trendsFrom(await appWith(days(40, (day) => ({ setUp: day < 30 ? FOAM : soft }))))
    const noted = lines.find(({ setUp }) => setUp.firmness === 'soft')!
    expect(noted.familiarisation).toEqual({ fromDate: '2026-01-05', untilDate: '2026-01-25' })
    expect(noted.trend.counted).toBe(10)
    // What was noted as another firmness is another surface.
    const firm = await trendsFrom(
      await appWith(days(40, (day) => ({ setUp: { ...FOAM, firmness: day < 30 ? 'firm' : 'soft' } }))),
    )
    expect(firm.lines.find(({ setUp }) => setUp.firmness === 'soft')!.trend.counted).toBe(0)
  })

  it('counts from the fourth week on', async () => {
    const [{ trend }] = (await trendsFrom(await appWith(days(30)))).lines
    expect(trend.sessions.map(({ part }) => part).lastIndexOf('familiarisation')).toBe(20)
    expect(trend.counted).toBe(9)
  })

  it('follows what a person said: a surface the dog knew, look-alikes that count, a longer baseline', async () => {
    const sessions = days(30, (day) => ({ columns: { look_alike: day % 2 ? 1 : 0 } }))
    const before = await trendsFrom(await appWith(sessions), '?measure=tremorRms')
    const [{ key, trend }] = before.lines
    expect([before.baselineSessions, trend.counted]).toEqual([5, 4])
    const settings = { familiar: [key], withLookAlikes: [key], baselineSessions: 8 }
    const app = await appWith(sessions, JUNIPER, (db) =>
      db
        .insertInto('trend_settings')
        .values({ dog_id: 'juniper', settings: JSON.stringify(settings), version: 1 })
        .execute(),
    )
    const after = await trendsFrom(app, '?measure=tremorRms')
    const [line] = after.lines
    expect([after.baselineSessions, line.trend.counted, line.trend.baseline?.sessions]).toEqual([8, 30, 8])
    expect(line.familiarisation).toBeNull()
    expect(line.familiarisationBasis).toMatch(/^Somebody said that the dog knew this surface/)
  })

  it('gives the EWMA of the counted sessions on the scale of the measure', async () => {
    const sessions = falling({ setUp: FLOOR, days: 40 })
    const [{ trend, ewma, ewmaSigma }] = (await trendsFrom(await appWith(sessions))).lines
    const counted = trend.sessions.filter(({ part }) => part !== 'left out')
    expect([ewma!.ewma.length, ewmaSigma]).toEqual([counted.length, trend.baseline!.sem])
    // NIST/SEMATECH e-Handbook 6.3.2.4, step by step in logs; six digits are told.
    const target = Math.log(trend.baseline!.mean)
    let average = target
    counted.forEach(({ value }, k) => {
      average = 0.2 * Math.log(value!) + 0.8 * average
      const reach = 2.7 * ewmaSigma! * Math.sqrt((0.2 / 1.8) * (1 - 0.8 ** (2 * (k + 1))))
      for (const [told, exact] of [
        [ewma!.ewma[k], Math.exp(average)],
        [ewma!.low[k], Math.exp(target - reach)],
        [ewma!.high[k], Math.exp(target + reach)],
      ]) {
        expect(Math.abs(told / exact - 1)).toBeLessThan(1e-5)
      }
      expect(ewma!.outside.includes(k)).toBe(Math.abs(average - target) > reach)
    })
    expect(ewma!.outside.length).toBeGreaterThan(0)
    const [holds] = (await trendsFrom(await appWith(sessions), '?measure=bestHoldS')).lines
    expect(holds.ewma!.target).toBe(holds.trend.baseline!.mean)
  })

  it('reckons the days asked for alone, both included, and still knows when the dog first stood there', async () => {
    const app = await appWith(days(60))
    const [line] = (await trendsFrom(app, '?from=2026-01-20&to=2026-02-20')).lines
    expect([line.sessionIds[0], line.sessionIds.at(-1)]).toEqual(['s15', 's46'])
    expect(line.trend.sessions.filter(({ part }) => part === 'familiarisation')).toHaveLength(6)
    expect(line.familiarisation?.fromDate).toBe('2026-01-05')
    expect((await trendsFrom(app, '?from=2027-01-01')).lines).toEqual([])
  })

  it('puts plans, medication, events and hard mornings on the axis, oldest first, notes and good mornings not', async () => {
    const entry = {
      dog_id: 'juniper',
      until_date: null,
      dose: null,
      note: null,
      version: 1,
      created_at: '',
      updated_at: '',
    }
    const app = await appWith(days(4), JUNIPER, async (db) => {
      await db
        .insertInto('diary_entries')
        .values([
          { ...entry, id: 'a', kind: 'event', from_date: '2026-01-07', title: 'Slipped on the stairs' },
          {
            ...entry,
            id: 'b',
            kind: 'medication',
            from_date: '2025-12-01',
            until_date: '2026-01-06',
            title: 'Pain relief',
            dose: '1 tablet a day',
          },
          { ...entry, id: 'c', kind: 'note', from_date: '2026-01-06', title: 'Sunny' },
        ])
        .execute()
      await db
        .insertInto('plans')
        .values({
          dog_id: 'juniper',
          version: 1,
          plan: JSON.stringify({ validFrom: '2026-01-01', setBy: 'Rowan Vale' }),
          created_at: '',
        })
        .execute()
      await db
        .insertInto('check_ins')
        .values([
          { session_id: 's1', answer: 'sore', note: 'left hind', at: '2026-01-07T07:00:00Z' },
          { session_id: 's2', answer: 'better', note: null, at: '2026-01-08T07:00:00Z' },
        ])
        .execute()
    })
    const { markers } = await trendsFrom(app)
    expect(markers).toEqual([
      {
        kind: 'medication',
        fromDate: '2025-12-01',
        untilDate: '2026-01-06',
        words: 'Pain relief, 1 tablet a day',
      },
      { kind: 'plan', fromDate: '2026-01-01', untilDate: null, words: 'Plan version 1, set by Rowan Vale' },
      {
        kind: 'check-in',
        fromDate: '2026-01-06',
        untilDate: null,
        words: 'Sore on the morning after the session: left hind',
        sessionId: 's1',
      },
      { kind: 'event', fromDate: '2026-01-07', untilDate: null, words: 'Slipped on the stairs' },
    ])
    const later = (await trendsFrom(app, '?from=2026-01-07')).markers
    expect(later.map(({ kind }) => kind)).toEqual(['event'])
  })

  it('refuses an unknown dog, measure or day', async () => {
    const app = await testApp()
    expect((await call(app, { url: '/api/dogs/none/trends' })).json()).toMatchObject({
      code: 'DOG_NOT_FOUND',
    })
    const dogId = await addDog(app)
    for (const query of [
      'measure=happiness',
      'from=2026-02-30',
      'to=soon',
      'from=2026-02-02&to=2026-02-01',
    ]) {
      const refused = await call(app, { url: `/api/dogs/${dogId}/trends?${query}` })
      expect([refused.statusCode, refused.json().code], query).toEqual([400, 'REQUEST_INVALID'])
    }
    const empty = (await call(app, { url: `/api/dogs/${dogId}/trends` })).json<Trends>()
    expect([empty.lines, empty.markers, empty.notCompared]).toEqual([[], [], []])
  })

  it('walks the index of the dog and reads no report', async () => {
    const dataDir = await temporaryDir()
    await storeSessions(dataDir, JUNIPER, days(3))
    const app = await testApp({ dataDir })
    // A report that is no JSON would break whatever read it.
    const { default: Sqlite } = await import('better-sqlite3')
    const raw = new Sqlite(`${dataDir}/swaybook.sqlite`)
    raw.exec(`insert into reports values ('s0', '{', '{', '2', '')`)
    const plan = raw
      .prepare(
        `explain query plan select sessions.id, sensor, resolution_ms2 from sessions left join streams
         on streams.session_id = sessions.id where dog_id = 'juniper' order by ordered_at_us, sessions.id`,
      )
      .all() as { detail: string }[]
    raw.close()
    expect(plan.map(({ detail }) => detail).join('; ')).toMatch(
      /^SEARCH sessions USING INDEX sessions_of_dog/,
    )
    expect(plan.map(({ detail }) => detail).join('; ')).not.toMatch(/SCAN|TEMP B-TREE/)
    expect((await trendsFrom(app)).lines[0].sessionIds).toEqual(['s0', 's1', 's2'])
  })
})

describe('/api/dogs/:dogId/trends.csv', () => {
  const csvOf = async (app: App, query = '') => {
    const response = await call(app, { url: `/api/dogs/juniper/trends.csv${query}` })
    expect(response.statusCode, response.body).toBe(200)
    expect(response.headers['content-type']).toMatch(/^text\/csv; charset=utf-8/)
    return response
  }

  it('has every session once, as csv-parse and papaparse read it, with the numbers of the answer in full', async () => {
    const sessions = [...falling(), { id: 'nowhere', startedAtUs: START_US, setUp: null }]
    const app = await appWith(sessions)
    const response = await csvOf(app)
    expect(response.headers['content-disposition']).toBe('attachment; filename="Juniper-swayRms.csv"')
    const rows = parse(response.body, { columns: true, record_delimiter: '\r\n' }) as Record<string, string>[]
    const read = Papa.parse<Record<string, string>>(response.body, { header: true, skipEmptyLines: true })
    expect(read.errors).toEqual([])
    expect(read.data).toEqual(rows)
    expect(rows.map(({ session }) => session).sort()).toEqual(sessions.map(({ id }) => id).sort())
    expect(rows.at(-1)).toMatchObject({
      session: 'nowhere',
      part: 'in no line',
      left_out_because: 'no set-up noted',
    })

    const [line] = (await trendsFrom(app)).lines
    let counted = 0
    line.trend.sessions.forEach(({ startedAtUs, value, part, leftOut }, k) => {
      const row = rows[k]
      expect(row).toMatchObject({
        session: line.sessionIds[k],
        started_at: new Date(startedAtUs / 1000).toISOString(),
        surface: 'foam pad',
        height_cm: '6',
        fore_to_hind_cm: '45',
        sensor: 'bluetooth',
        unit: 'm/s²',
        value: String(value),
        part,
        left_out_because: leftOut ?? '',
        baseline_mean: String(line.trend.baseline!.mean),
      })
      const counts = part !== 'left out' && part !== 'familiarisation'
      expect(row.ewma).toBe(counts ? String(line.ewma!.ewma[counted++]) : '')
      const { mean, mdc95 } = line.trend.baseline!
      expect(Number(row.baseline_noise_low)).toBeCloseTo(mean * (1 + mdc95.fall / 100), 12)
    })
  })

  it('is safe in a spreadsheet: what begins like a formula is text, commas, quotes and lines stay in their cell', async () => {
    // OWASP, CSV injection: = + - @ tab and carriage return, full-width forms too.
    const surfaces = [
      '=HYPERLINK("x","y")',
      '+1',
      '-1',
      '@sum',
      '\t=1',
      ' =1',
      '＝1',
      'a "soft", wide\r\npad',
    ]
    const sessions = days(surfaces.length, (day) => ({
      setUp: { exercise: 'stand', surface: surfaces[day] },
    }))
    const { body } = await csvOf(await appWith(sessions))
    const rows = parse(body, { columns: true }) as Record<string, string>[]
    const told = new Map(rows.map(({ session, surface }) => [session, surface]))
    surfaces.forEach((surface, k) => {
      const harmless = k === surfaces.length - 1
      expect(told.get(`s${k}`)).toBe(harmless ? surface : `'${surface}`)
    })
  })

  it('tells the reasons of people and sensors beside the sessions they left out', async () => {
    const sessions = days(8, (day) => ({
      ...(day === 2 && { columns: { excluded_reason: '=cmd, he barked' } }),
      ...(day === 3 && { resolutionMs2: 0.3 }),
    }))
    const rows = parse((await csvOf(await appWith(sessions))).body, { columns: true }) as Record<
      string,
      string
    >[]
    expect(rows[2].left_out_because).toBe('excluded by a person: =cmd, he barked')
    expect(rows[3].left_out_because).toBe('below what the sensor can measure')
  })
})
