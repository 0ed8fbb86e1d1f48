import type { NewPlan, Plan } from '#protocol/resources'
import type { Author } from '../changes.ts'
import type { PlanRecords } from '../plans.ts'
import { auditQuery } from './audit.ts'
import type { Connection } from './connection.ts'
import type { PlansTable } from './schema.ts'

export class SqlitePlans implements PlanRecords {
  readonly #connection: Connection
  readonly #db: Connection['db']

  constructor(connection: Connection) {
    this.#connection = connection
    this.#db = connection.db
  }

  async add(dogId: string, newest: number, plan: NewPlan, by?: Author): Promise<Plan | null> {
    const { db, together } = this.#connection
    return together(({ rows, run }) => {
      // Within one transaction, so that of two that saw the same version only one adds the next.
      const [before] = rows(
        db
          .selectFrom('plans')
          .selectAll()
          .where('dog_id', '=', dogId)
          .orderBy('version', 'desc')
          .limit(1)
          .compile(),
      )
      if ((before?.version ?? 0) !== newest) return null
      const version = newest + 1
      const text = JSON.stringify(plan)
      const row = { dog_id: dogId, version, plan: text, created_at: new Date().toISOString() }
      run(db.insertInto('plans').values(row).compile())
      // Every version is kept whole: the trail need not repeat it.
      const line = { dogId, action: 'plan.set', detail: { version, setBy: plan.setBy } }
      if (by !== undefined) run(auditQuery(db, by, line))
      return planOf(row)
    })
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

function planOf(row: PlansTable): Plan {
  return {
    dogId: row.dog_id,
    version: row.version,
    ...(JSON.parse(row.plan) as NewPlan),
    createdAt: row.created_at,
  }
}
