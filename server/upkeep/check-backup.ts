import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { fileSum } from './durable-files.ts'
import type { Finding } from './finding.ts'
import type { BackupManifest } from './manifest.ts'

/** Every file of a backup is there with the bytes its manifest names. */
export async function checkBackupFiles(backupDir: string, { files }: BackupManifest): Promise<Finding[]> {
  const findings: Finding[] = []
  for (const { path, bytes, sha256 } of files) {
    const full = join(backupDir, path)
    if (!existsSync(full)) {
      findings.push({ kind: 'file', text: `${full} is missing` })
      continue
    }
    const sum = await fileSum(full)
    if (sum.bytes !== bytes) {
      findings.push({ kind: 'file', text: `${full} has ${sum.bytes} bytes; ${bytes} were written` })
    } else if (sum.sha256 !== sha256) {
      findings.push({ kind: 'file', text: `${full} is not what was written: its SHA-256 is another one` })
    }
  }
  return findings
}
