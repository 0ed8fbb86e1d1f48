import { sql } from 'kysely'
import type { Migration } from 'kysely'

/** Where a block that was made of packets keeps when each of them arrived (see arrivals-codec.ts). */
export const ARRIVALS_OF_BLOCKS: Migration = {
  async up(db) {
    await sql`alter table sample_blocks add column arrivals blob`.execute(db)
  },
}
