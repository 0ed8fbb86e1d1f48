import { existsSync, readdirSync, statfsSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { makeDataFolder } from '../store/data-folder.ts'
import { databasePath, openConnection } from '../store/sqlite/connection.ts'
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

export interface MigrateOptions {
  /** An existing folder for the copy, e.g. on another disk; the data folder otherwise. */
  readonly copyTo?: string
}

/**
 * Brings the database of a stopped server to this version, all steps or none, after a backup of it as it was.
 * @throws {DataFolderError} when a server runs on the folder
 * @throws {UpkeepError} when there is no room for the backup, or it cannot be made: nothing was changed then
 */
export async function migrate(dataDir: string, { copyTo = dataDir }: MigrateOptions = {}): Promise<Migrated> {
  const found = pendingMigrations(dataDir)
  if (found.pending.length === 0) return { ...found, copyDir: null }
  makeDataFolder(dataDir)
  const letGo = lockFolder(dataDir)
  try {
    requireRoom(dataDir, copyTo)
    const stamp = new Date().toISOString().replace(/[-:]/g, '').replace('.', '-')
    const { dir } = await backUp(dataDir, join(copyTo, `before-${found.pending[0]}-${stamp}`))
    const { db } = await openConnection(dataDir)
    await db.destroy()
    return { ...found, copyDir: dir }
  } finally {
    letGo()
  }
}

/**
 * The same for a server that starts on the folder, before it opens it: a newer version must not be the end of the
 * data for the one before. Null where there is nothing to bring up to date.
 * @throws as `migrate`
 */
export async function migrateAtStart(dataDir: string): Promise<Migrated | null> {
  if (dataDir === ':memory:' || !existsSync(databasePath(dataDir))) return null
  // What cannot be written to is told as such, not as what cannot be read then.
  makeDataFolder(dataDir)
  // Without any it is a first start that was cut off: there is nothing to keep.
  if (pendingMigrations(dataDir).applied.length === 0) return null
  const migrated = await migrate(dataDir)
  return migrated.copyDir === null ? null : migrated
}

/** Copies of earlier upgrades that still lie in a data folder. */
export function copiesKept(dataDir: string): string[] {
  return readdirSync(dataDir).filter((name) => COPY.test(name))
}

const COPY = /^before-\d{3}-.+-\d{8}T\d{6}-\d{3}Z$/

/** Left over beside the copy: the changed pages of the migration lie in its log until it is through. */
const SPARE_BYTES = 8 * 1024 * 1024

function requireRoom(dataDir: string, copyTo: string): void {
  const path = databasePath(dataDir)
  const sizeOf = (file: string) => statSync(file, { throwIfNoEntry: false })?.size ?? 0
  const neededBytes = sizeOf(path) + sizeOf(`${path}-wal`) + SPARE_BYTES
  if (!existsSync(copyTo))
    throw new UpkeepError(`there is no folder ${copyTo} for the copy; nothing was changed`)
  const { bavail, bsize } = statfsSync(copyTo)
  const freeBytes = bavail * bsize
  if (freeBytes >= neededBytes) return
  throw new UpkeepError(
    `the data in ${dataDir} is of an earlier version; before it is brought up to date it is copied, which needs ` +
      `${megabytes(neededBytes)} MB, and ${copyTo} has ${megabytes(freeBytes)} MB left. Make room, or have the copy ` +
      'made elsewhere: swaybook migrate --copy-to FOLDER. Nothing was changed.',
  )
}

const megabytes = (bytes: number) => (bytes / 1e6).toFixed(1)
