import { resolve } from 'node:path'
import { migrate, pendingMigrations } from '../upkeep/migrate.ts'
import { dataFolderOf, noPositionals, storedDataArguments } from './stored-data-options.ts'
import type { CommandContext } from './stored-data-options.ts'

export const MIGRATE_HELP = `Usage: swaybook migrate [options]

Brings the database of a stopped server to this version: all steps or none. A backup is made first,
in the data folder or where --copy-to says; its name is printed. A start of the server does the same.
Data of a newer version is refused and left as it is.

  --data DIR        folder of the data (default: SWAYBOOK_DATA, or the one the server uses)
  --check           only say what would be done
  --copy-to FOLDER  make the backup in this folder, e.g. on a disk with more room

Exit code 0: done, or nothing to do; 2: this command line; 3: the data is of a newer version, a server
is running on the folder, there is no room for the backup, or the folder cannot be used: nothing was
changed.
`

/** `swaybook migrate`: exit code 0 when the database is of this version, or with --check, could be. */
export async function migrateCommand(args: readonly string[], context: CommandContext): Promise<number> {
  const { values, positionals } = storedDataArguments(args, {
    check: { type: 'boolean' },
    'copy-to': { type: 'string' },
  })
  if (values.help) {
    process.stdout.write(MIGRATE_HELP)
    return 0
  }
  noPositionals('migrate', positionals)
  const dataDir = dataFolderOf(values.data, context)
  if (values.check) {
    const { pending } = pendingMigrations(dataDir)
    process.stdout.write(
      pending.length === 0
        ? `${dataDir} is of this version.\n`
        : `${dataDir} would get ${pending.join(', ')}.\n`,
    )
    return 0
  }
  const copyTo = values['copy-to']
  const { pending, copyDir } = await migrate(dataDir, copyTo === undefined ? {} : { copyTo: resolve(copyTo) })
  process.stdout.write(
    pending.length === 0
      ? `${dataDir} is of this version.\n`
      : `${dataDir} got ${pending.join(', ')}.\nWhat it was before is the backup ${copyDir}. To go back: stop this ` +
          'version, restore that backup with --replace, and start the version before. Delete it when you are sure.\n',
  )
  return 0
}
