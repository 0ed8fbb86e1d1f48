import { existsSync, mkdirSync, renameSync, rmSync } from 'node:fs'
import { basename, dirname, join, resolve } from 'node:path'
import Sqlite from 'better-sqlite3'
import { ANALYSIS_VERSION } from '#signal/constants'
import { SOFTWARE_VERSION } from '../software-version.ts'
import { embedSamples, forgetInflux, remoteSampleCount } from '../store/influx/embed-copy.ts'
import { InfluxError } from '../store/influx/influx-error.ts'
import type { InfluxSettings } from '../store/influx/settings.ts'
import { removeOrphans } from '../store/sqlite/adopt.ts'
import { databasePath } from '../store/sqlite/connection.ts'
import { appliedMigrations } from '../store/sqlite/migrations.ts'
import { checkDatabase } from './check-database.ts'
import type { DatabaseCheck } from './check-database.ts'
import { fileSum, flushFile, flushFolder, writeNewFile } from './durable-files.ts'
import { BACKUP_FORMAT, BACKUP_FORMAT_VERSION, MANIFEST_FILE } from './manifest.ts'
import type { BackupManifest } from './manifest.ts'
import { openReadOnly } from './open-read-only.ts'
import { rowCounts } from './row-counts.ts'
import { UpkeepError } from './upkeep-error.ts'

export interface BackupMade {
  readonly dir: string
  readonly manifest: BackupManifest
  /** What is wrong in the data, and so in the copy of it. */
  readonly check: DatabaseCheck
}

/**
 * What to do about samples that InfluxDB holds: read them by these settings, leave them there, or, where nobody said
 * how to reach it, make no backup.
 */
export type RemoteSamplesChoice = InfluxSettings | 'records only' | 'refuse'

/**
 * Copies the data of `dataDir` into the new folder `backupDir`, beside a server that may be recording: one state of
 * the database, the newest when the copy begins. The copy is a single read transaction (VACUUM INTO): under WAL
 * it holds up no writer, where the page-wise backup of SQLite would begin anew at every commit of the server
 * (sqlite.org/c3ref/backup_finish.html). The folder gets its name once everything in it is on the disk and read
 * back; until then it is `<name>.partial`.
 * Samples that InfluxDB holds are read from there into the copy, so that it restores to either store, or left out
 * where `samples` says so: InfluxDB is not changed.
 * @throws {UpkeepError} when the name is taken, the data cannot be read, or InfluxDB does not give its samples
 */
export async function backUp(
  dataDir: string,
  backupDir: string,
  samples: RemoteSamplesChoice = 'records only',
): Promise<BackupMade> {
  const dir = resolve(backupDir)
  if (existsSync(dir)) {
    throw new UpkeepError(`${dir} exists already. Name a folder that does not: nothing is overwritten.`)
  }
  const parent = dirname(dir)
  if (!existsSync(parent)) throw new UpkeepError(`there is no folder ${parent} to put ${basename(dir)} into`)
  const partial = `${dir}.partial`
  const source = openReadOnly(dataDir)
  try {
    makePartial(partial)
  } catch (error) {
    source.close()
    throw error
  }
  try {
    source.prepare('vacuum into ?').run(databasePath(partial))
  } catch (cause) {
    rmSync(partial, { recursive: true, force: true })
    throw copyFailed(dir, cause as Error)
  } finally {
    source.close()
  }
  try {
    await fetchRemote(partial, dataDir, samples)
    const made = await finish(partial)
    // An empty folder would be replaced by the rename, a file or a full folder not.
    if (existsSync(dir)) throw new UpkeepError(`${dir} was made by someone else meanwhile: take another name`)
    renameSync(partial, dir)
    flushFolder(parent)
    return { dir, ...made }
  } catch (error) {
    rmSync(partial, { recursive: true, force: true })
    throw error
  }
}

/** Of two backups to one name the second is refused here. */
function makePartial(partial: string): void {
  try {
    mkdirSync(partial, { mode: 0o700 })
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code !== 'EEXIST') throw cause
    throw new UpkeepError(
      `${partial} exists: another backup to this name is under way, or one was cut off. ` +
        'Remove that folder if none is running.',
      { cause },
    )
  }
}

/** @throws {UpkeepError} */
async function fetchRemote(partial: string, dataDir: string, samples: RemoteSamplesChoice): Promise<void> {
  if (samples === 'records only') return
  const copy = new Sqlite(databasePath(partial))
  try {
    const count = remoteSampleCount(copy)
    if (count === 0) return forgetInflux(copy)
    if (samples === 'refuse') {
      throw new UpkeepError(
        `${count} samples of ${dataDir} are in InfluxDB. Set INFLUX_URL and the other INFLUX_ settings as the server ` +
          'has them, so that the backup can hold them, or add --records-only to leave them out. No backup was made.',
      )
    }
    // As for the server: what is deleted takes along what belongs to it.
    copy.pragma('foreign_keys = ON')
    await embedSamples(copy, samples, (stream) => hasStream(dataDir, stream))
  } catch (cause) {
    if (!(cause instanceof InfluxError)) throw cause
    throw new UpkeepError(
      `the samples in InfluxDB could not be read: ${cause.message} No backup was made. Try again when it answers, or ` +
        'add --records-only to leave them out.',
      { cause },
    )
  } finally {
    copy.close()
  }
}

function hasStream(dataDir: string, stream: string): boolean {
  const source = openReadOnly(dataDir)
  try {
    return source.prepare('select 1 from streams where id = ?').get(stream) !== undefined
  } finally {
    source.close()
  }
}

async function finish(partial: string): Promise<Omit<BackupMade, 'dir'>> {
  const path = databasePath(partial)
  settle(path)
  flushFile(path)
  const sum = await fileSum(path)
  const copy = openReadOnly(partial)
  try {
    const check = checkDatabase(copy)
    const manifest: BackupManifest = {
      format: BACKUP_FORMAT,
      formatVersion: BACKUP_FORMAT_VERSION,
      createdAt: new Date().toISOString(),
      softwareVersion: SOFTWARE_VERSION,
      analysisVersion: ANALYSIS_VERSION,
      migrations: appliedMigrations(copy),
      counts: rowCounts(copy),
      samples: check.counts,
      files: [{ path: basename(path), ...sum }],
    }
    writeNewFile(join(partial, MANIFEST_FILE), `${JSON.stringify(manifest, null, 2)}\n`)
    flushFolder(partial)
    return { manifest, check }
  } finally {
    copy.close()
  }
}

/** An import that was under way has rows in the copy that belong to nobody: nothing would remove them later. */
function settle(path: string): void {
  const copy = new Sqlite(path)
  try {
    copy.pragma('foreign_keys = ON')
    removeOrphans(copy)
  } finally {
    copy.close()
  }
}

function copyFailed(dir: string, cause: Error): UpkeepError {
  return new UpkeepError(
    `the backup ${dir} could not be written: ${cause.message}. Nothing was kept of it.`,
    {
      cause,
    },
  )
}
