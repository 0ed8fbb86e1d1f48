import { readFile } from 'node:fs/promises'
import { ANALYSIS_VERSION } from '#signal/constants'
import { analyseCommand } from './analyse.ts'
import { UsageError } from './usage-error.ts'

const HELP = `Usage: swaybook <command>

  analyse FILE   measure a trace: holds, sway and tremor (swaybook analyse --help)

  --version      print the version

The dashboard starts with: npm start
`

/** Runs the command line and returns the exit code: 0 done, 2 bad usage, 3 input that cannot be analysed. */
export async function main(args: readonly string[]): Promise<number> {
  const [command, ...rest] = args
  try {
    if (command === 'analyse') return await analyseCommand(rest)
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
    if (!(error instanceof UsageError)) throw error
    process.stderr.write(`swaybook: ${error.message}\n`)
    return 2
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
