import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { Type } from 'typebox'
import type { Static } from 'typebox'
import { Compile } from 'typebox/compile'
import { validationWords } from '../validation-words.ts'
import { UpkeepError } from './upkeep-error.ts'

export const BACKUP_FORMAT = 'swaybook-backup'
/** Raised when an older version could not restore the folder, or would lose something. */
export const BACKUP_FORMAT_VERSION = 1
export const MANIFEST_FILE = 'manifest.json'

const Count = Type.Integer({ minimum: 0 })

export const BackupManifest = Type.Object({
  format: Type.Literal(BACKUP_FORMAT),
  formatVersion: Type.Integer({ minimum: 1 }),
  createdAt: Type.String(),
  softwareVersion: Type.String(),
  analysisVersion: Type.String(),
  migrations: Type.Array(Type.String(), { description: 'Applied to the database, in order' }),
  counts: Type.Record(Type.String(), Count, { description: 'Rows of every table' }),
  samples: Type.Object(
    { streams: Count, blocks: Count, samples: Count, lost: Count, inInflux: Type.Optional(Count) },
    {
      description:
        'What the copy holds; `inInflux`: those of the samples that are in InfluxDB, and not in the backup',
    },
  ),
  files: Type.Array(
    Type.Object({
      path: Type.String({ pattern: '^[a-z.-]+$' }),
      bytes: Count,
      sha256: Type.String({ pattern: '^[0-9a-f]{64}$' }),
    }),
    { minItems: 1 },
  ),
})
export type BackupManifest = Static<typeof BackupManifest>

const manifestCheck = Compile(BackupManifest)

/** @throws {UpkeepError} for a folder that is no backup, or one of a newer version */
export function readManifest(backupDir: string): BackupManifest {
  const path = join(backupDir, MANIFEST_FILE)
  let value: unknown
  try {
    value = JSON.parse(readFileSync(path, 'utf8'))
  } catch (cause) {
    const { code, message } = cause as NodeJS.ErrnoException
    const missing = code === 'ENOENT' || code === 'ENOTDIR'
    const what = missing ? 'there is no such file' : message
    throw new UpkeepError(`${path}: ${what}. Name the folder that swaybook backup made.`, { cause })
  }
  if (!manifestCheck.Check(value)) {
    const words = validationWords(manifestCheck.Errors(value), 'manifest')
    throw new UpkeepError(`${path}: ${words}. It was changed or is no backup of Swaybook; take another one.`)
  }
  if (value.formatVersion > BACKUP_FORMAT_VERSION) {
    throw new UpkeepError(
      `${path}: a newer Swaybook made this backup (format ${value.formatVersion}). Use that version.`,
    )
  }
  return value
}
