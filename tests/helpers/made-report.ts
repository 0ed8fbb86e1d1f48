import type { DiaryEntry } from '#protocol/diary'
import type { Dog, Plan, SessionSummary, SetUp } from '#protocol/resources'
import type { RepetitionNote } from '#protocol/session-review'
import type { Trends } from '#protocol/trends'
import type { TrendRow } from '#server/store/trend-source'
import { DEFAULT_TREND_SETTINGS, trendsOf } from '#server/trends/trends'
import type { MeasureName } from '#signal/trend/measures'
import { createRandom } from '#signal/simulator/random'
import { madePlan } from './made-plan.ts'

/** An invented dog's records, as the server answers with them. */
export interface MadeRecords {
  dog: Dog
  plans: Plan[]
  sessions: SessionSummary[]
  diary: DiaryEntry[]
  notes: Map<string, RepetitionNote[]>
}

const DAY_MS = 86_400_000

export function madeDog(changes: Partial<Dog> = {}): Dog {
  return {
    id: 'made-dog',
    name: 'Juniper',
    breed: 'Lurcher',
    weightKg: 27,
    withersCm: 68,
    bornYear: 2016,
    notes: null,
    demo: false,
    createdAt: '2026-01-01T00:00:00.000Z',
    sessions: 0,
    version: 1,
    ...changes,
  }
}

export function madeStoredPlan(version: number, changes: Partial<Plan> = {}): Plan {
  return {
    ...madePlan({ notes: null }),
    dogId: 'made-dog',
    version,
    createdAt: '2026-01-01T00:00:00.000Z',
    ...changes,
  }
}

export function madeSession(id: string, changes: Partial<SessionSummary> = {}): SessionSummary {
  return {
    id,
    dogId: 'made-dog',
    dogName: 'Juniper',
    sensor: 'bluetooth',
    fileName: null,
    setUp: null,
    mount: 'auto',
    state: 'finished',
    startedAt: null,
    createdAt: '2026-11-25T09:00:00.000Z',
    durationS: 200,
    rateHz: 100,
    verdict: 'good',
    holds: 4,
    holdS: 30,
    handsOffHoldS: 24,
    bestHoldS: 9,
    swayMs2: 0.08,
    tremorMs2: 0.05,
    comparableSwayMs2: 0.08,
    comparableTremorMs2: 0.05,
    analysisVersion: '3',
    problem: null,
    planned: null,
    checkIn: null,
    version: 1,
    setUpConfirmedAt: null,
    excluded: null,
    repetitions: 3,
    supportShare: 0.2,
    fatigueRatio: 1.1,
    planWarnings: 0,
    ...changes,
  }
}

/** A course on one set-up: sessions every `everyDays` up to a day, sway falling by a factor a week. */
export function madeCourse(
  setUp: SetUp,
  course: {
    seed: string
    lastDay: string
    weeks: number
    everyDays?: number
    firstSwayMs2?: number
    weeklyFactor?: number
    sensor?: string
    noise?: number
  },
): SessionSummary[] {
  const { seed, lastDay, weeks, everyDays = 2, firstSwayMs2 = 0.11, weeklyFactor = 0.96 } = course
  const random = createRandom(seed)
  const count = Math.floor((7 * weeks) / everyDays)
  const lastMs = Date.parse(`${lastDay}T17:10:00Z`)
  return Array.from({ length: count }, (_, k) => {
    const ageDays = (count - 1 - k) * everyDays
    const week = weeks - ageDays / 7
    const noise = () => Math.exp((course.noise ?? 0.09) * random.normal())
    const sway = firstSwayMs2 * weeklyFactor ** week * noise()
    const answers = ['normal', 'normal', 'normal', 'better', 'normal', 'tired', 'normal', 'sore'] as const
    const answer = answers[Math.floor(random.uniform() * random.uniform() * 8)]
    const startedAt = new Date(lastMs - ageDays * DAY_MS).toISOString()
    return madeSession(`${seed}-${k}`, {
      setUp,
      sensor: course.sensor ?? 'bluetooth',
      startedAt,
      createdAt: startedAt,
      verdict: random.uniform() < 0.85 ? 'good' : 'usable',
      comparableSwayMs2: sway,
      swayMs2: sway,
      comparableTremorMs2: 0.05 * noise(),
      handsOffHoldS: 18 + week + 3 * random.normal(),
      bestHoldS: 7 + 0.2 * week + random.normal(),
      supportShare: Math.min(1, Math.max(0, 0.3 - 0.01 * week + 0.05 * random.normal())),
      fatigueRatio: 1.12 * noise(),
      planWarnings: random.uniform() < 0.1 ? 1 : 0,
      checkIn: random.uniform() < 0.9 ? { answer, note: null, at: startedAt, version: 1 } : null,
    })
  })
}

/** What GET /api/dogs/:dogId/trends answers for these sessions, made by the server's own function. */
export function trendsOfMade(
  { dog, sessions }: Pick<MadeRecords, 'dog' | 'sessions'>,
  measure: MeasureName,
  days: { from: string | null; to: string | null },
): Trends {
  return trendsOf(sessions.map(rowOf), [], {
    dogId: dog.id,
    measure,
    ...days,
    demo: dog.demo,
    settings: DEFAULT_TREND_SETTINGS,
    namedSessions: 20,
  })
}

function rowOf(session: SessionSummary): TrendRow {
  return {
    id: session.id,
    startedAtUs: session.startedAt === null ? null : Date.parse(session.startedAt) * 1000,
    state: session.state,
    sensor: session.sensor,
    setUp: session.setUp,
    figures: {
      comparableSwayMs2: session.comparableSwayMs2,
      comparablePathRate: null,
      comparableJerk: null,
      comparableTremorMs2: session.comparableTremorMs2,
      comparableRatio: null,
      comparableWeak: false,
      comparableBasis: 'hands-off hold time',
      lookAlike: false,
      bestHoldS: session.bestHoldS,
      handsOffHoldS: session.handsOffHoldS,
      supportShare: session.supportShare,
    },
    excludedReason: session.excluded?.reason ?? null,
    resolutionMs2: session.resolutionMs2 ?? null,
  }
}
