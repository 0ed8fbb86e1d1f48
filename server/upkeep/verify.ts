import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { checkBackupFiles } from './check-backup.ts'
import { checkDatabase } from './check-database.ts'
import type { DatabaseCheck } from './check-database.ts'
import { MANIFEST_FILE, readManifest } from './manifest.ts'
import { copiesKept } from './migrate.ts'
import { openReadOnly } from './open-read-only.ts'
import { databasesKeptAside } from './restore.ts'
import { rowCounts } from './row-counts.ts'

export interface Verified extends DatabaseCheck {
  readonly kind: 'data folder' | 'backup'
}

/**
 * Checks a data folder, beside a server that may be running on it, or a backup.
 * @throws {UpkeepError} when there is nothing that could be checked
 */
export async function verify(dir: string): Promise<Verified> {
  if (!existsSync(join(dir, MANIFEST_FILE))) {
    const check = checkOf(dir)
    const aside = databasesKeptAside(dir).map(
      (name) => `${join(dir, name)} is kept from a restore; delete it when you are sure.`,
    )
    const copies = copiesKept(dir).map(
      (name) =>
        `${join(dir, name)} is kept from an upgrade, with dogs that were deleted since; delete it when you are sure.`,
    )
    return { kind: 'data folder', ...check, notes: [...check.notes, ...aside, ...copies] }
  }
  const manifest = readManifest(dir)
  const findings = await checkBackupFiles(dir, manifest)
  const check = checkOf(dir)
  const counts = countsOf(dir)
  for (const [table, count] of Object.entries(manifest.counts)) {
    if (counts[table] === count) continue
    const text = `the manifest counts ${count} rows of ${table}; there are ${counts[table] ?? 'none'}`
    findings.push({ kind: 'manifest', text })
  }
  return { kind: 'backup', ...check, findings: [...findings, ...check.findings] }
}

function checkOf(dir: string): DatabaseCheck {
  const raw = openReadOnly(dir)
  try {
    return checkDatabase(raw)
  } finally {
    raw.close()
  }
}

function countsOf(dir: string): Record<string, number> {
  const raw = openReadOnly(dir)
  try {
    return rowCounts(raw)
  } finally {
    raw.close()
  }
}
