import { ConfigError } from '../config-error.ts'
import { loadInfluxSettings } from '../store/influx/load-settings.ts'
import { MigrationStoppedError, moveToInflux, moveToSqlite } from '../store/influx/migrate-series.ts'
import { requireMigrated } from '../upkeep/migrate.ts'
import { dataFolderOf, noPositionals, storedDataArguments } from './stored-data-options.ts'
import type { CommandContext } from './stored-data-options.ts'
import { UsageError } from './usage-error.ts'

export const MIGRATE_SERIES_HELP = `Usage: swaybook migrate-series --to influx|sqlite [options]

Moves the samples of a stopped server to InfluxDB, or back into its data folder. Every block is compared
with its checksum before it is given up where it was. Interrupted, the same command goes on from there.
INFLUX_URL and the other INFLUX_ settings say which InfluxDB.

  --data DIR   folder of the data (default: SWAYBOOK_DATA, or the one the server uses)

Exit code 0: all samples are there; 2: this command line or a setting; 3: a server is running on the
folder, it cannot be used, or not everything could be moved.
`

/** `swaybook migrate-series`: exit code 0 when all samples are where they were asked to be. */
export async function migrateSeriesCommand(
  args: readonly string[],
  context: CommandContext,
): Promise<number> {
  const { values, positionals } = storedDataArguments(args, { to: { type: 'string' } })
  if (values.help) {
    process.stdout.write(MIGRATE_SERIES_HELP)
    return 0
  }
  noPositionals('migrate-series', positionals)
  if (values.to !== 'influx' && values.to !== 'sqlite') {
    throw new UsageError('migrate-series needs --to influx or --to sqlite')
  }
  const dataDir = dataFolderOf(values.data, context)
  try {
    const settings = loadInfluxSettings(context.env)
    requireMigrated(dataDir)
    await (values.to === 'influx' ? moveToInflux(dataDir, settings) : moveToSqlite(dataDir, settings))
  } catch (error) {
    if (error instanceof ConfigError) throw new UsageError(error.message, { cause: error })
    if (!(error instanceof MigrationStoppedError)) throw error
    process.stderr.write(`swaybook: not all samples were moved; nothing is lost. ${error.message}\n`)
    return 3
  }
  const next = values.to === 'influx' ? 'SWAYBOOK_SERIES=influx' : 'SWAYBOOK_SERIES=sqlite'
  process.stdout.write(`All samples of ${dataDir} are moved and compared. Start the server with ${next}.\n`)
  return 0
}
