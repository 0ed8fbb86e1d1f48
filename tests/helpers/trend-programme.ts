import type { SetUp } from '#protocol/resources'
import { course, storeSessions } from './stored-sessions.ts'

export const FOAM: SetUp = {
  exercise: 'stand',
  surface: 'foam pad',
  heightCm: 6,
  firmness: 'soft',
  foreToHindCm: 45,
  unstable: true,
}
export const FLOOR: SetUp = { exercise: 'stand', surface: 'living room floor', foreToHindCm: 45 }
export const BOARD: SetUp = { exercise: 'front paws up', surface: 'wobble board', unstable: true }

/** Monday 2025-09-01, µs. */
const START_US = Date.UTC(2025, 8, 1) * 1000

/** Twenty weeks of an invented dog on three set-ups, one of them by phone too, with a life around it. */
export async function storeTrendProgramme(dataDir: string, dogId = 'juniper'): Promise<void> {
  const at = { startUs: START_US, days: 140, sessionsPerDay: 1 }
  const foam = course({ ...at, seed: 'foam', setUp: FOAM, per4Weeks: 0.88 })
  const excluded = { ...foam[60], columns: { ...foam[60].columns, excluded_reason: 'thunderstorm' } }
  const hidden = { ...foam[70], resolutionMs2: 0.3 }
  const sessions = [
    ...foam.filter((_, k) => k !== 60 && k !== 70),
    excluded,
    hidden,
    ...course({ ...at, seed: 'floor', setUp: FLOOR, noise: 0.1 }),
    ...course({ ...at, seed: 'phone', setUp: FLOOR, sensor: 'phone', days: 40, noise: 0.3 }),
    ...course({ ...at, seed: 'board', setUp: BOARD, days: 3 }),
    { id: 'no-set-up', startedAtUs: START_US, setUp: null },
  ]
  const entry = { dog_id: dogId, note: null, version: 1, created_at: '', updated_at: '' }
  await storeSessions(dataDir, { id: dogId, name: 'Juniper' }, sessions, async (db) => {
    await db
      .insertInto('diary_entries')
      .values([
        {
          ...entry,
          id: 'a',
          kind: 'event',
          from_date: '2025-10-21',
          until_date: null,
          title: 'Slipped on the stairs',
          dose: null,
        },
        {
          ...entry,
          id: 'b',
          kind: 'medication',
          from_date: '2025-10-22',
          until_date: '2025-11-12',
          title: 'Pain relief',
          dose: 'as prescribed',
        },
        {
          ...entry,
          id: 'c',
          kind: 'medication',
          from_date: '2025-12-20',
          until_date: null,
          title: 'Joint supplement',
          dose: null,
        },
      ])
      .execute()
    await db
      .insertInto('plans')
      .values(
        ['2025-09-01', '2025-11-03'].map((validFrom, k) => ({
          dog_id: dogId,
          version: k + 1,
          plan: JSON.stringify({ validFrom, setBy: 'Rowan Vale' }),
          created_at: '2025-09-01T08:00:00Z',
        })),
      )
      .execute()
    await db
      .insertInto('check_ins')
      .values([
        { session_id: 'foam-50', answer: 'sore', note: 'left hind', at: '2025-10-22T07:00:00Z' },
        { session_id: 'foam-90', answer: 'tired', note: null, at: '2025-12-01T07:00:00Z' },
        { session_id: 'foam-91', answer: 'better', note: null, at: '2025-12-02T07:00:00Z' },
      ])
      .execute()
  })
}
