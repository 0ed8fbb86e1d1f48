import { resolve } from 'node:path'
import { verify } from '../upkeep/verify.ts'
import type { Verified } from '../upkeep/verify.ts'
import { findingLines } from './finding-lines.ts'
import { dataFolderOf, storedDataArguments } from './stored-data-options.ts'
import type { CommandContext } from './stored-data-options.ts'
import { UsageError } from './usage-error.ts'

export const VERIFY_HELP = `Usage: swaybook verify [BACKUP] [options]

Checks the data folder (the server may be running), or the backup in the folder BACKUP: files of a
backup against its manifest, pages and indexes of the database, references, the checksum of every
block of samples, that blocks and declared losses cover every stream without gap or overlap, stored
JSON against its schemas, and reports. Every damaged block is named: stream, session, dog, range of
indexes, time.

  --data DIR   folder of the data (default: SWAYBOOK_DATA, or the one the server uses)
  --json       print the result as JSON

Exit code 0: nothing is wrong; 2: this command line; 3: something is wrong, or there is nothing to
check.
`

/** `swaybook verify`: exit code 3 when something is wrong. */
export async function verifyCommand(args: readonly string[], context: CommandContext): Promise<number> {
  const { values, positionals } = storedDataArguments(args, { json: { type: 'boolean' } })
  if (values.help) {
    process.stdout.write(VERIFY_HELP)
    return 0
  }
  const dir = folderOf(values.data, positionals, context)
  const verified = await verify(dir)
  process.stdout.write(
    values.json ? `${JSON.stringify({ dir, ...verified }, null, 2)}\n` : words(dir, verified),
  )
  return verified.findings.length === 0 ? 0 : 3
}

function folderOf(data: string | undefined, positionals: readonly string[], context: CommandContext): string {
  if (positionals.length === 0) return dataFolderOf(data, context)
  if (positionals.length === 1 && data === undefined) return resolve(positionals[0])
  throw new UsageError('verify takes --data DIR or one BACKUP, not both; swaybook verify --help shows how')
}

function words(dir: string, { kind, findings, notes, counts }: Verified): string {
  const { streams, blocks, samples, lost } = counts
  return (
    `${kind === 'backup' ? 'Backup' : 'Data folder'} ${dir}: ${streams} streams, ${blocks} blocks, ` +
    `${samples} samples, ${lost} declared lost\n` +
    notes.map((note) => `Note: ${note}\n`).join('') +
    (findings.length === 0 ? 'Nothing is wrong.\n' : `${findings.length} wrong:\n${findingLines(findings)}`)
  )
}
