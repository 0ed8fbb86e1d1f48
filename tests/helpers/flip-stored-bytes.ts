import { closeSync, openSync, readFileSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import Sqlite from 'better-sqlite3'

/** What is looked for in the file: within one page, so that no page header lies in it. */
const PIECE_BYTES = 64

export interface FlippedBlock {
  readonly firstIndex: number
  readonly count: number
}

/**
 * Turns over a byte of the file of a stopped server's database, in the middle of a session's `nth` block of samples:
 * what a disk does that goes bad. Gives which samples those were.
 */
export function flipStoredBytes(dataDir: string, sessionId: string, nth: number): FlippedBlock {
  const path = join(dataDir, 'swaybook.sqlite')
  const raw = new Sqlite(path)
  const rows = raw
    .prepare<[string], FlippedBlock & { columns: Buffer }>(
      `select first_index as firstIndex, count, columns from sample_blocks
       where stream_id = (select id from streams where session_id = ?) order by first_index`,
    )
    .all(sessionId)
  // Everything into the file itself.
  raw.pragma('wal_checkpoint(TRUNCATE)')
  raw.close()
  const { firstIndex, count, columns } = rows[nth]
  const file = readFileSync(path)
  // A piece may lie across two pages, or be there twice: another one then.
  for (let at = Math.floor(columns.length / 2); at + PIECE_BYTES <= columns.length; at += PIECE_BYTES) {
    const place = file.indexOf(columns.subarray(at, at + PIECE_BYTES))
    if (place < 0 || file.indexOf(columns.subarray(at, at + PIECE_BYTES), place + 1) >= 0) continue
    const disk = openSync(path, 'r+')
    writeSync(disk, Uint8Array.of(file[place] ^ 0xff), 0, 1, place)
    closeSync(disk)
    return { firstIndex, count }
  }
  throw new Error(`block ${nth} of session ${sessionId} was not found in ${path}`)
}
