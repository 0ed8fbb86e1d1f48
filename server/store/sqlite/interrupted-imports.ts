import { existsSync } from 'node:fs'
import { rm } from 'node:fs/promises'
import { join } from 'node:path'
import type { Database as SqliteDatabase } from 'better-sqlite3'
import { IMPORTS_FOLDER } from '../imports-folder.ts'
import { removeOrphans } from './adopt.ts'

/** After a start: what imports left that ended with their process. The folder goes last, so that nothing is missed. */
export async function removeInterruptedImports(dataDir: string, raw: SqliteDatabase): Promise<void> {
  if (dataDir === ':memory:') return
  const folder = join(dataDir, IMPORTS_FOLDER)
  if (!existsSync(folder)) return
  removeOrphans(raw)
  await rm(folder, { recursive: true, force: true })
}
