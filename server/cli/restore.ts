import { resolve } from 'node:path'
import { restore } from '../upkeep/restore.ts'
import { dataFolderOf, onlyPositional, storedDataArguments } from './stored-data-options.ts'
import type { CommandContext } from './stored-data-options.ts'

export const RESTORE_HELP = `Usage: swaybook restore SRC [options]

Puts the backup in the folder SRC into the data folder of a stopped server. Sizes and SHA-256 of its
files are checked before anything is changed. The new database takes its place in one step: cut off
at any moment, the old data or the new is there, whole, and the command can be run again.

  --data DIR   folder of the data (default: SWAYBOOK_DATA, or the one the server uses)
  --replace    restore into a folder that has data; that data is kept beside it as
               replaced-<time>.sqlite until you delete it

Exit code 0: restored; 2: this command line; 3: the backup is damaged, a server is running on the
folder, or the folder cannot be used: nothing was changed.
`

/** `swaybook restore`: exit code 0 when the backup is in place. */
export async function restoreCommand(args: readonly string[], context: CommandContext): Promise<number> {
  const { values, positionals } = storedDataArguments(args, { replace: { type: 'boolean' } })
  if (values.help) {
    process.stdout.write(RESTORE_HELP)
    return 0
  }
  const source = resolve(onlyPositional('restore', 'SRC', positionals))
  const dataDir = dataFolderOf(values.data, context)
  const { manifest, keptAside } = await restore(source, dataDir, { replace: values.replace ?? false })
  const { dogs = 0, sessions = 0 } = manifest.counts
  process.stdout.write(
    `Restored ${dogs} dogs and ${sessions} sessions of ${manifest.createdAt} into ${dataDir}\n`,
  )
  if (keptAside !== null) {
    process.stdout.write(
      `What was there before is kept as ${keptAside}. Delete it when you are sure: dogs deleted from now on ` +
        'are still in it.\n',
    )
  }
  return 0
}
