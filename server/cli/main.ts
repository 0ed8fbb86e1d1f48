import { readFile } from 'node:fs/promises'
import { ANALYSIS_VERSION } from '#signal/constants'
import { DataFolderError } from '../store/data-folder.ts'
import { UpkeepError } from '../upkeep/upkeep-error.ts'
import type { CommandContext } from './stored-data-options.ts'
import { UsageError } from './usage-error.ts'

const HELP = `Usage: swaybook <command>

  analyse FILE   measure a trace: holds, sway and tremor

For whoever runs a server:
  backup DEST    copy everything that is stored, beside a running server
  restore SRC    put a backup in place of a stopped server's data
  verify         check every stored block, reference and report, or a backup
  migrate        bring stored data to this version, with a backup first
  migrate-series move samples to InfluxDB or back
  owner-password set a new password for an owner who forgot it
  reanalyse      measure stored sessions anew, and say which numbers moved

  <command> --help   how to use it
  --version          print the version

The dashboard starts with: npm start
`

type Command = (args: readonly string[], context: CommandContext) => Promise<number>

/** Each takes the arguments behind its name and gives the exit code; loaded when it is asked for. */
const COMMANDS: Readonly<Record<string, () => Promise<Command>>> = {
  analyse: async () => (await import('./analyse.ts')).analyseCommand,
  backup: async () => (await import('./backup.ts')).backupCommand,
  restore: async () => (await import('./restore.ts')).restoreCommand,
  verify: async () => (await import('./verify.ts')).verifyCommand,
  migrate: async () => (await import('./migrate.ts')).migrateCommand,
  'migrate-series': async () => (await import('./migrate-series.ts')).migrateSeriesCommand,
  'owner-password': async () => (await import('./owner-password.ts')).ownerPasswordCommand,
  reanalyse: async () => (await import('./reanalyse.ts')).reanalyseCommand,
}

/**
 * Runs the command line and returns the exit code: 0 done, 2 bad usage, 3 input that cannot be analysed, or stored
 * data that cannot be used or is damaged.
 */
export async function main(
  args: readonly string[],
  context: CommandContext = { env: process.env, platform: process.platform },
): Promise<number> {
  const [command, ...rest] = args
  try {
    if (command !== undefined && Object.hasOwn(COMMANDS, command)) {
      const run = await COMMANDS[command]()
      return await run(rest, context)
    }
    if (command === undefined || command === '--help' || command === '-h' || command === 'help') {
      process.stdout.write(HELP)
      return command === undefined ? 2 : 0
    }
    if (command === '--version') {
      process.stdout.write(`swaybook ${await version()}\n`)
      return 0
    }
    throw new UsageError(`there is no command "${command}"; swaybook --help lists them`)
  } catch (error) {
    const isData = error instanceof UpkeepError || error instanceof DataFolderError
    if (!isData && !(error instanceof UsageError)) throw error
    process.stderr.write(`swaybook: ${error.message}\n`)
    return isData ? 3 : 2
  }
}

/** The package's version and that of the analysis, which numbers carry. */
async function version(): Promise<string> {
  // Two folders up in the sources, three in dist: the nearest package.json is the package's own.
  for (const path of ['../../package.json', '../../../package.json']) {
    const text = await readFile(new URL(path, import.meta.url), 'utf8').catch(() => null)
    if (text !== null)
      return `${(JSON.parse(text) as { version: string }).version}, analysis ${ANALYSIS_VERSION}`
  }
  return 'unknown'
}
