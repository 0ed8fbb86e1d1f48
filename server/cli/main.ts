import { analyseCommand } from './analyse.ts'
import { UsageError } from './usage-error.ts'

const HELP = `Usage: swaybook <command>

  analyse FILE   measure a trace: holds, sway and tremor (swaybook analyse --help)

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
    throw new UsageError(`there is no command "${command}"; swaybook --help lists them`)
  } catch (error) {
    if (!(error instanceof UsageError)) throw error
    process.stderr.write(`swaybook: ${error.message}\n`)
    return 2
  }
}
