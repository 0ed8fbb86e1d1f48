import { sql } from 'kysely'
import type { CheckIn, NewPlan, Plan } from '#protocol/resources'
import type { CheckInRecords, PlanRecords, StoredCheckIn } from '../plans.ts'
import type { Connection } from './connection.ts'
import type { PlansTable } from './schema.ts'

export class SqlitePlans implements PlanRecords {
  readonly #db: Connection['db']

  constructor({ db }: Connection) {
    this.#db = db
  }

  async add(dogId: string, newest: number, plan: NewPlan): Promise<Plan | null> {
    const row = {
      dog_id: dogId,
      version: newest + 1,
      plan: JSON.stringify(plan),
      created_at: new Date().toISOString(),
    }
    // One statement, so that of two that saw the same version only one adds the next.
    const { numAffectedRows } = await sql`
      insert into plans (dog_id, version, plan, created_at)
      select ${row.dog_id}, ${row.version}, ${row.plan}, ${row.created_at}
      where (select coalesce(max(version), 0) from plans where dog_id = ${dogId}) = ${newest}
    `.execute(this.#db)
    return numAffectedRows ? planOf(row) : null
  }

  async plan(dogId: string, version?: number): Promise<Plan | null> {
    const query = this.#db.selectFrom('plans').selectAll().where('dog_id', '=', dogId)
    const row = await query
      .$if(version !== undefined, (one) => one.where('version', '=', version!))
      .orderBy('version', 'desc')
      .limit(1)
      .executeTakeFirst()
    return row ? planOf(row) : null
  }

  async plans(dogId: string): Promise<Plan[]> {
    const query = this.#db.selectFrom('plans').selectAll().where('dog_id', '=', dogId)
    return (await query.orderBy('version', 'desc').execute()).map(planOf)
  }
}

export class SqliteCheckIns implements CheckInRecords {
  readonly #db: Connection['db']

  constructor({ db }: Connection) {
    this.#db = db
  }

  async set(sessionId: string, checkIn: CheckIn): Promise<StoredCheckIn | null> {
    const { answer } = checkIn
    const note = checkIn.note ?? null
    const at = new Date().toISOString()
    const { rows } = await sql<{ version: number }>`
      insert into check_ins (session_id, answer, note, at)
      select id, ${answer}, ${note}, ${at} from sessions where id = ${sessionId}
      on conflict (session_id) do update set
        answer = excluded.answer, note = excluded.note, at = excluded.at, version = version + 1
      returning version
    `.execute(this.#db)
    return rows.length > 0 ? { answer, note, at, version: rows[0].version } : null
  }

  async remove(sessionId: string): Promise<boolean> {
    const query = this.#db.deleteFrom('check_ins').where('session_id', '=', sessionId)
    return (await query.executeTakeFirst()).numDeletedRows > 0n
  }
}

function planOf(row: PlansTable): Plan {
  return {
    dogId: row.dog_id,
    version: row.version,
    ...(JSON.parse(row.plan) as NewPlan),
    createdAt: row.created_at,
  }
}
