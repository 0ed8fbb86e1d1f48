import { ANALYSIS_VERSION } from '#signal/constants'
import { AnalysisPool } from '../analysis/pool.ts'
import { ConfigError, DEFAULT_LIMITS } from '../config.ts'
import { loadSeriesSettings } from '../store/influx/load-settings.ts'
import { openStore } from '../store/open-store.ts'
import { requireMigrated } from '../upkeep/migrate.ts'
import { reanalyse } from '../upkeep/reanalyse.ts'
import { ReanalyseSum } from './reanalyse-sum.ts'
import { dataFolderOf, noPositionals, storedDataArguments } from './stored-data-options.ts'
import type { CommandContext } from './stored-data-options.ts'
import { UsageError } from './usage-error.ts'

export const REANALYSE_HELP = `Usage: swaybook reanalyse [options]

Measures finished sessions of a stopped server anew, with the analysis of this version, and says of
each and in sum how many numbers moved, how far at most, and in which quantity. Marks, corrected
holds, notes, plans and what people changed stay, and go into the new numbers as they did into the
old ones. Every session is replaced as a whole or not at all; where numbers moved, the dog's trail
tells it. Interrupted, the same command with --stale does the rest. Samples are read from where the
server keeps them: set SWAYBOOK_SERIES and the INFLUX_ settings as for the server.

  --data DIR     folder of the data (default: SWAYBOOK_DATA, or the one the server uses)
  --dog ID       only sessions of this dog; may be given several times
  --session ID   only this session; may be given several times
  --stale        only sessions measured by another version of the analysis. Its settings are part of
                 the version: they never change without it

Exit code 0: all that were asked for are of this version's analysis, or had to be left alone, which is
said; 2: this command line or a setting; 3: a server is running on the folder, it cannot be used, or a
session could not be measured (it is named and keeps what it had).
`

/** `swaybook reanalyse`: exit code 0 when every session that could be asked for was done. */
export async function reanalyseCommand(args: readonly string[], context: CommandContext): Promise<number> {
  const { values, positionals } = storedDataArguments(args, {
    dog: { type: 'string', multiple: true },
    session: { type: 'string', multiple: true },
    stale: { type: 'boolean' },
  })
  if (values.help) {
    process.stdout.write(REANALYSE_HELP)
    return 0
  }
  noPositionals('reanalyse', positionals)
  const dataDir = dataFolderOf(values.data, context)
  const influx = seriesSettings(context)
  requireMigrated(dataDir)
  const store = await openStore({ dataDir, influx, limits: DEFAULT_LIMITS }, (error) => {
    process.stderr.write(`swaybook: samples could not be moved; they stay as they are: ${String(error)}\n`)
  })
  const pool = new AnalysisPool(DEFAULT_LIMITS)
  const sum = new ReanalyseSum()
  const { dog: dogIds = [], session: sessionIds = [], stale = false } = values
  try {
    for await (const outcome of reanalyse(store, pool, { dogIds, sessionIds, stale })) {
      const line = sum.add(outcome)
      if (outcome.kind === 'failed') process.stderr.write(`swaybook: ${line}\n`)
      else process.stdout.write(`${line}\n`)
    }
  } finally {
    await pool.close()
    await store.close()
    if (sum.sessions > 0) process.stdout.write(sum.words(ANALYSIS_VERSION))
  }
  if (sum.sessions === 0) process.stdout.write(`There are no sessions in ${dataDir} to measure.\n`)
  return sum.failed === 0 ? 0 : 3
}

function seriesSettings({ env }: CommandContext) {
  try {
    return loadSeriesSettings(env)
  } catch (error) {
    if (error instanceof ConfigError) throw new UsageError(error.message, { cause: error })
    throw error
  }
}
