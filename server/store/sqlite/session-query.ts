import { sql } from 'kysely'
import type { Connection } from './connection.ts'

/** Sessions with all that their summary tells; one row a session: it has at most one stream and one check-in. */
export function sessionQuery(db: Connection['db']) {
  return db
    .selectFrom('sessions')
    .innerJoin('dogs', 'dogs.id', 'sessions.dog_id')
    .leftJoin('check_ins', 'check_ins.session_id', 'sessions.id')
    .leftJoin('streams', 'streams.session_id', 'sessions.id')
    .selectAll('sessions')
    .select([
      'dogs.name as dog_name',
      'streams.resolution_ms2',
      'answer',
      'check_ins.note as answer_note',
      'check_ins.at as answered_at',
      'check_ins.version as answer_version',
      sql<number>`(select coalesce(sum(json_array_length(signs)), 0) from repetition_notes
        where repetition_notes.session_id = sessions.id)`.as('fatigue_signs'),
    ])
}
