import { join } from 'node:path'
import { makeDataFolder } from '../store/data-folder.ts'
import { openConnection } from '../store/sqlite/connection.ts'
import { lockFolder } from '../store/sqlite/folder-lock.ts'
import { appliedMigrations, MIGRATIONS } from '../store/sqlite/migrations.ts'
import { backUp } from './backup.ts'
import { openReadOnly } from './open-read-only.ts'
import { UpkeepError } from './upkeep-error.ts'

export interface PendingMigrations {
  readonly applied: readonly string[]
  readonly pending: readonly string[]
}

/**
 * What would be done to the database of a folder.
 * @throws {UpkeepError} when there is none, or a newer version wrote it
 */
export function pendingMigrations(dataDir: string): PendingMigrations {
  const raw = openReadOnly(dataDir)
  try {
    const applied = appliedMigrations(raw)
    const unknown = applied.filter((name) => !(name in MIGRATIONS))
    if (unknown.length > 0) {
      throw new UpkeepError(
        `the data in ${dataDir} was written by a newer Swaybook (it has ${unknown.join(', ')}); nothing was ` +
          'changed. Use that version, or restore a backup from before it.',
      )
    }
    return { applied, pending: Object.keys(MIGRATIONS).filter((name) => !applied.includes(name)) }
  } finally {
    raw.close()
  }
}

/**
 * That the data of a folder is of this version: bringing it up to date is a step of its own.
 * @throws {UpkeepError}
 */
export function requireMigrated(dataDir: string): void {
  const { pending } = pendingMigrations(dataDir)
  if (pending.length === 0) return
  throw new UpkeepError(
    `the data in ${dataDir} is of an earlier version (without ${pending.join(', ')}). Run swaybook migrate first; ` +
      'nothing was changed.',
  )
}

export interface Migrated extends PendingMigrations {
  /** The backup made before; null when there was nothing to do. */
  readonly copyDir: string | null
}

/**
 * Brings the database of a stopped server to this version, all steps or none, after a backup within the data folder.
 * @throws {DataFolderError} when a server runs on the folder
 */
export async function migrate(dataDir: string): Promise<Migrated> {
  const found = pendingMigrations(dataDir)
  if (found.pending.length === 0) return { ...found, copyDir: null }
  makeDataFolder(dataDir)
  const letGo = lockFolder(dataDir)
  try {
    const stamp = new Date().toISOString().replace(/[-:]/g, '').replace('.', '-')
    const { dir } = await backUp(dataDir, join(dataDir, `before-${found.pending[0]}-${stamp}`))
    const { db } = await openConnection(dataDir)
    await db.destroy()
    return { ...found, copyDir: dir }
  } finally {
    letGo()
  }
}
