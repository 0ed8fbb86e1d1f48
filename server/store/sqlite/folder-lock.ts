import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import type { Database } from 'better-sqlite3'
import { DataFolderError, unusableFolder } from '../data-folder.ts'

/** How long a server that is just ending may take to let go, ms. */
const LET_GO_MS = 500

/**
 * Takes `dataDir` for this process and gives the function that lets go of it. The lock is that of an
 * exclusive transaction on an empty database, `swaybook.lock`: the operating system grants it to one
 * process and takes it back when that process ends in any way, so there is no stale lock. The
 * sessions themselves stay readable for others, e.g. a backup.
 * @throws {DataFolderError} when another server has the folder, or no file can be made in it
 */
export function lockFolder(dataDir: string): () => void {
  let lock: Database | null = null
  try {
    lock = new Sqlite(join(dataDir, 'swaybook.lock'), { timeout: LET_GO_MS })
    lock.exec('BEGIN EXCLUSIVE')
  } catch (error) {
    lock?.close()
    const cause = error as Error & { code?: string }
    if (!cause.code?.startsWith('SQLITE_BUSY')) throw unusableFolder(dataDir, cause)
    throw new DataFolderError(
      `The data folder ${dataDir} is in use by another running Swaybook. ` +
        'Stop that one, or set SWAYBOOK_DATA to another folder.',
      { cause },
    )
  }
  const held = lock
  return () => void held.close()
}
