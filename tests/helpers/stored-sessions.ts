import { openConnection } from '#server/store/sqlite/connection'
import type { Connection } from '#server/store/sqlite/connection'
import type { SessionsTable, StreamsTable } from '#server/store/sqlite/schema'
import type { SetUp } from '#protocol/resources'
import { setUpColumns } from '#server/store/sqlite/session-rows'
import { createRandom } from '#signal/simulator/random'
import type { Insertable } from 'kysely'

export const DAY_US = 86_400_000_000

export interface MadeSession {
  readonly id: string
  readonly startedAtUs: number | null
  readonly setUp: SetUp | null
  readonly sensor?: string
  /** Columns of the session that differ from an ordinary analysed one. */
  readonly columns?: Partial<Insertable<SessionsTable>>
  readonly resolutionMs2?: number
}

/**
 * Writes a dog and analysed sessions into the tables of a data folder, without traces: what is left when only their
 * figures matter. The server must not be running on it yet.
 */
export async function storeSessions(
  dataDir: string,
  dog: { id: string; name: string; demo?: boolean },
  sessions: readonly MadeSession[],
  more: (db: Connection['db']) => Promise<unknown> = async () => undefined,
): Promise<void> {
  const { db, raw } = await openConnection(dataDir)
  const createdAt = '2026-01-01T00:00:00.000Z'
  await db
    .insertInto('dogs')
    .values({ id: dog.id, name: dog.name, demo: dog.demo ? 1 : 0, created_at: createdAt })
    .execute()
  raw.exec('begin')
  for (const session of sessions) {
    await db.insertInto('sessions').values(sessionRow(dog.id, session)).execute()
    await db.insertInto('streams').values(streamRow(session)).execute()
  }
  raw.exec('commit')
  await more(db)
  await db.destroy()
}

function sessionRow(
  dogId: string,
  { id, startedAtUs, setUp, sensor = 'bluetooth', columns }: MadeSession,
): Insertable<SessionsTable> {
  const createdUs = startedAtUs ?? Date.UTC(2026, 0, 1) * 1000
  return {
    id,
    dog_id: dogId,
    sensor,
    ...setUpColumns(setUp),
    mount: 'auto',
    state: 'finished',
    started_at_us: startedAtUs,
    created_at: new Date(createdUs / 1000).toISOString(),
    ordered_at_us: createdUs,
    duration_s: 180,
    rate_hz: 100,
    verdict: 'good',
    comparable_sway_ms2: 0.1,
    comparable_path_rate: 0.6,
    comparable_jerk: 12,
    comparable_ratio: 1.6,
    comparable_tremor_ms2: 0.04,
    comparable_weak: 0,
    comparable_basis: 'hands-off hold time',
    look_alike: 0,
    best_hold_s: 9,
    hands_off_hold_s: 41,
    support_share: 0.2,
    analysis_version: '2',
    ...columns,
  }
}

function streamRow({ id, startedAtUs, resolutionMs2 }: MadeSession): Insertable<StreamsTable> {
  return {
    id: `stream-${id}`,
    session_id: id,
    kind: 'live',
    columns: '["ax","ay","az"]',
    rate_hz: 100,
    started_at_us: startedAtUs,
    resolution_ms2: resolutionMs2 ?? null,
    complete: 1,
  }
}

export interface CourseOptions {
  readonly seed: string
  readonly startUs: number
  readonly days: number
  readonly sessionsPerDay: number
  readonly setUp: SetUp
  readonly sensor?: string
  /** Share of sway that is left after four weeks. */
  readonly per4Weeks?: number
  /** SD of the logarithm from session to session. */
  readonly noise?: number
  readonly sensorDescription?: string
}

/** A made course: sway on a straight line of its logarithm with normal noise, and its relatives along with it. */
export function course(options: CourseOptions): MadeSession[] {
  const { seed, startUs, days, sessionsPerDay, setUp, sensor, per4Weeks = 1, noise = 0.15 } = options
  const random = createRandom(seed)
  return Array.from({ length: days * sessionsPerDay }, (_, k) => {
    const day = Math.floor(k / sessionsPerDay)
    const hour = 8 + (10 * (k % sessionsPerDay)) / Math.max(1, sessionsPerDay - 1)
    const factor = per4Weeks ** (day / 28) * Math.exp(noise * random.normal())
    return {
      id: `${seed}-${k}`,
      startedAtUs: startUs + day * DAY_US + hour * 3_600_000_000 + Math.floor(random.uniform(0, 6e8)),
      setUp,
      ...(sensor !== undefined && { sensor }),
      columns: {
        comparable_sway_ms2: 0.1 * factor,
        comparable_path_rate: 0.6 * factor,
        comparable_jerk: 12 * factor ** 2,
        comparable_ratio: 1.6 * factor,
        comparable_tremor_ms2: 0.04 * Math.exp(noise * random.normal()),
        comparable_weak: random.uniform() < 0.03 ? 1 : 0,
        look_alike: random.uniform() < 0.08 ? 1 : 0,
        best_hold_s: 8 / factor,
        hands_off_hold_s: 40 / factor,
        support_share: Math.min(1, 0.15 * factor),
        sensor_description: options.sensorDescription ?? null,
      },
    }
  })
}
