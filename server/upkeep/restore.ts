import {
  copyFileSync,
  existsSync,
  linkSync,
  constants,
  chmodSync,
  readdirSync,
  renameSync,
  rmSync,
  statSync,
} from 'node:fs'
import { basename, join, resolve } from 'node:path'
import Sqlite from 'better-sqlite3'
import { makeDataFolder } from '../store/data-folder.ts'
import { databasePath } from '../store/sqlite/connection.ts'
import { lockFolder } from '../store/sqlite/folder-lock.ts'
import { MIGRATIONS } from '../store/sqlite/migrations.ts'
import { checkBackupFiles } from './check-backup.ts'
import { fileSum, flushFile, flushFolder } from './durable-files.ts'
import { readManifest } from './manifest.ts'
import type { BackupManifest } from './manifest.ts'
import { UpkeepError } from './upkeep-error.ts'

const INCOMING = 'swaybook.sqlite.restoring'
const ASIDE = /^replaced-.+\.sqlite$/

export interface Restored {
  readonly manifest: BackupManifest
  /** Where the data lies that was there before; null when there was none. */
  readonly keptAside: string | null
}

/**
 * Puts the backup in `backupDir` into the data folder. The copy is complete and on the disk under another name before
 * one rename puts it in place, so a process that dies at any moment leaves the old database or the new one, never
 * parts of both. Databases are swapped, not folders: the folder's lock stays where it is, and no server finds the
 * folder missing in between.
 * @throws {UpkeepError} when the backup is damaged or newer, or the folder has data and `replace` was not asked
 * @throws {DataFolderError} when a server runs on the folder, or it may not be written to
 */
export async function restore(
  backupDir: string,
  dataDir: string,
  { replace }: { readonly replace: boolean },
): Promise<Restored> {
  const manifest = readManifest(backupDir)
  await requireWhole(backupDir, manifest)
  makeDataFolder(dataDir)
  const letGo = lockFolder(dataDir)
  try {
    const path = databasePath(dataDir)
    if (existsSync(path) && !replace) {
      throw new UpkeepError(
        `${dataDir} has data already. Add --replace to put the backup in its place (what is there now is kept ` +
          'aside), or name another folder with --data.',
      )
    }
    removeUnfinished(dataDir, path)
    const incoming = join(dataDir, INCOMING)
    await copyIn(join(backupDir, basename(path)), incoming, manifest)
    const keptAside = existsSync(path) ? setAside(dataDir, path) : null
    if (keptAside === null) removeLog(path)
    renameSync(incoming, path)
    flushFolder(dataDir)
    return { manifest, keptAside }
  } finally {
    letGo()
  }
}

/** Databases of earlier restores that still lie in a data folder. */
export function databasesKeptAside(dataDir: string): string[] {
  return readdirSync(dataDir).filter((name) => ASIDE.test(name))
}

/** A restore that was cut off before its rename leaves a second name of the database that is still in use. */
function removeUnfinished(dataDir: string, path: string): void {
  const current = statSync(path, { throwIfNoEntry: false })
  for (const name of databasesKeptAside(dataDir)) {
    const other = join(dataDir, name)
    if (statSync(other).ino === current?.ino) rmSync(other)
  }
}

async function requireWhole(backupDir: string, manifest: BackupManifest): Promise<void> {
  const unknown = manifest.migrations.filter((name) => !(name in MIGRATIONS))
  if (unknown.length > 0) {
    const has = unknown.join(', ')
    throw new UpkeepError(
      `${backupDir} is of a newer Swaybook (it has ${has}). Restore it with that version; nothing was changed.`,
    )
  }
  const findings = await checkBackupFiles(backupDir, manifest)
  if (findings.length === 0) return
  const words = findings.map(({ text }) => text).join('; ')
  throw new UpkeepError(`${words}. The backup is damaged and was not restored; take another one.`)
}

/** Read back before anything depends on it: a disk may fail silently. */
async function copyIn(from: string, incoming: string, { files }: BackupManifest): Promise<void> {
  rmSync(incoming, { force: true })
  try {
    copyFileSync(from, incoming, constants.COPYFILE_EXCL)
    chmodSync(incoming, 0o600)
    flushFile(incoming)
    const { sha256 } = await fileSum(incoming)
    if (sha256 !== files.find(({ path }) => path === basename(from))?.sha256) {
      throw new UpkeepError(`${incoming} reads back other bytes than were written: the disk may be failing`)
    }
  } catch (cause) {
    rmSync(incoming, { force: true })
    if (cause instanceof UpkeepError) throw cause
    const { message } = cause as Error
    throw new UpkeepError(`the backup could not be copied into place: ${message}. Nothing was changed.`, {
      cause,
    })
  }
}

/** Gives what is there a second name, complete in one file, and returns it. */
function setAside(dataDir: string, path: string): string {
  const stamp = new Date().toISOString().replace(/[-:]/g, '').replace('.', '-')
  const aside = join(dataDir, `replaced-${stamp}.sqlite`)
  if (!foldLogIn(path)) {
    // It cannot be opened, which may be why it is replaced: it goes aside as it is, with its log.
    for (const end of ['-wal', '-shm']) {
      if (existsSync(path + end)) linkSync(path + end, aside + end)
    }
  }
  linkSync(path, aside)
  flushFolder(dataDir)
  removeLog(path)
  return resolve(aside)
}

/**
 * Moves what the write-ahead log still holds into the database. A log beside another database than its own would be
 * replayed into that one: it must be gone before the rename, and nothing of it be lost.
 */
function foldLogIn(path: string): boolean {
  let raw: Sqlite.Database | null = null
  try {
    raw = new Sqlite(path)
    raw.pragma('wal_checkpoint(TRUNCATE)')
    const [{ journal_mode }] = raw.pragma('journal_mode = DELETE') as { journal_mode: string }[]
    return journal_mode === 'delete'
  } catch (error) {
    const { code } = error as { code?: string }
    if (code === 'SQLITE_NOTADB' || code?.startsWith('SQLITE_CORRUPT')) return false
    throw new UpkeepError(`${path} cannot be set aside: ${(error as Error).message}. Nothing was changed.`, {
      cause: error,
    })
  } finally {
    raw?.close()
  }
}

function removeLog(path: string): void {
  for (const end of ['-wal', '-shm', '-journal']) rmSync(path + end, { force: true })
}
