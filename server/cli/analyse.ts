import { readFile } from 'node:fs/promises'
import { basename } from 'node:path'
import { analyseTrace, OptionError } from '#signal/report'
import type { Report } from '#signal/report-types'
import { TraceError } from '#signal/trace/parse'
import type { TraceErrorCode } from '#signal/trace/parse'
import { readTrace } from '../analysis/read-trace.ts'
import { ANALYSE_HELP, parseAnalyseArguments } from './analyse-options.ts'
import type { AnalyseArguments } from './analyse-options.ts'
import { reportTable } from './report-table.ts'
import { UsageError } from './usage-error.ts'

/** `swaybook analyse`: exit code 0 with a result, 3 when the input cannot be analysed. */
export async function analyseCommand(args: readonly string[]): Promise<number> {
  const options = parseAnalyseArguments(args)
  if (!options) {
    process.stdout.write(ANALYSE_HELP)
    return 0
  }
  try {
    const report = measure(await readInput(options.file), options)
    process.stdout.write(options.json ? `${JSON.stringify(report, null, 2)}\n` : reportTable(report))
    return 0
  } catch (error) {
    if (!(error instanceof TraceError || error instanceof UnreadableError)) throw error
    process.stderr.write(`swaybook: ${options.file}: ${error.message}${optionHint(error)}\n`)
    return 3
  }
}

function measure(bytes: Uint8Array, options: AnalyseArguments): Report {
  const { rateHz, unit, columns, mount, interval, bands, calibrate } = options
  const parsed = readTrace(bytes, { rateHz, unit, columns })
  try {
    return analyseTrace(
      { ...parsed, file: options.file === '-' ? undefined : basename(options.file) },
      { rateHz, mount, interval, bands, calibrate },
    )
  } catch (error) {
    if (error instanceof OptionError) throw new UsageError(error.message, { cause: error })
    throw error
  }
}

async function readInput(file: string): Promise<Uint8Array> {
  try {
    if (file !== '-') return await readFile(file)
    const chunks: Buffer[] = []
    for await (const chunk of process.stdin) chunks.push(chunk as Buffer)
    return Buffer.concat(chunks)
  } catch (error) {
    const { code, message } = error as NodeJS.ErrnoException
    const what =
      code === 'ENOENT'
        ? 'there is no such file'
        : code === 'EISDIR'
          ? 'this is a folder, not a file'
          : message
    throw new UnreadableError(`${what}. Check the path.`, { cause: error })
  }
}

/** Which option says what the file does not. */
const OPTIONS_BY_CODE: Readonly<Partial<Record<TraceErrorCode, string>>> = {
  UNKNOWN_UNIT: '--unit',
  UNIT_CONTRADICTION: '--unit',
  NO_COLUMNS: '--columns',
  AMBIGUOUS_COLUMNS: '--columns',
  BAD_MAPPING: '--columns',
  NO_TIME: '--rate, --columns',
  BAD_TIME: '--rate, --columns',
  COARSE_TIME: '--rate, --columns',
  TIME_ORDER: '--rate, --columns',
}

function optionHint(error: Error): string {
  const options = error instanceof TraceError && OPTIONS_BY_CODE[error.code]
  return options ? ` (${options}; see swaybook analyse --help)` : ''
}

/** The file could not be read at all. */
class UnreadableError extends Error {
  override readonly name = 'UnreadableError'
}
