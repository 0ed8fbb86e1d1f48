import { ConfigError } from '../config-error.ts'
import { loadInfluxSettings } from '../store/influx/load-settings.ts'
import { backUp } from '../upkeep/backup.ts'
import type { RemoteSamplesChoice } from '../upkeep/backup.ts'
import { findingLines } from './finding-lines.ts'
import { dataFolderOf, onlyPositional, storedDataArguments } from './stored-data-options.ts'
import type { CommandContext } from './stored-data-options.ts'
import { UsageError } from './usage-error.ts'

export const BACKUP_HELP = `Usage: swaybook backup DEST [options]

Copies everything that is stored into the new folder DEST: the database as one file and manifest.json
with its version, the number of rows and its SHA-256. The server may be running and recording: the
copy is one state, with every sample that was acknowledged before it began. It is read back and
checked before the folder gets its name; an existing DEST is never overwritten. Samples in InfluxDB are
read from there into the backup, which restores to either store: set the INFLUX_ settings as for the
server.

  --data DIR       folder of the data (default: SWAYBOOK_DATA, or the one the server uses)
  --records-only   leave out samples that are in InfluxDB: back that up by its own means, right after

Run it under the account of the server. Exit code 0: the backup is whole; 2: this command line;
3: no backup was made, or what was copied is damaged already (the backup is kept, and it is said what).
`

/** `swaybook backup`: exit code 0 for a whole backup of sound data. */
export async function backupCommand(args: readonly string[], context: CommandContext): Promise<number> {
  const { values, positionals } = storedDataArguments(args, { 'records-only': { type: 'boolean' } })
  if (values.help) {
    process.stdout.write(BACKUP_HELP)
    return 0
  }
  const dest = onlyPositional('backup', 'DEST', positionals)
  const samples = values['records-only'] ? 'records only' : influxSettings(context)
  const { dir, manifest, check } = await backUp(dataFolderOf(values.data, context), dest, samples)
  const { dogs = 0, sessions = 0 } = manifest.counts
  const [{ bytes }] = manifest.files
  process.stdout.write(
    `Backup ${dir}: ${dogs} dogs, ${sessions} sessions, ${manifest.samples.samples} samples, ` +
      `${(bytes / 1e6).toFixed(1)} MB, read back and checked\n`,
  )
  if (check.counts.inInflux > 0) {
    process.stderr.write(
      `swaybook: NOT IN THIS BACKUP: ${check.counts.inInflux} samples that are in InfluxDB. Back InfluxDB up by its ` +
        'own means now, and keep the two together.\n',
    )
  }
  if (check.findings.length === 0) return 0
  process.stderr.write(
    `swaybook: what was copied is damaged; the backup holds it as it is:\n${findingLines(check.findings)}`,
  )
  return 3
}

/** How to reach InfluxDB, where the environment says so. */
function influxSettings({ env }: CommandContext): RemoteSamplesChoice {
  if (!env.INFLUX_URL) return 'refuse'
  try {
    return loadInfluxSettings(env)
  } catch (error) {
    if (error instanceof ConfigError) throw new UsageError(error.message, { cause: error })
    throw error
  }
}
