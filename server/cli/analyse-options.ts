import { parseArgs } from 'node:util'
import { DEFAULT_BANDS } from '#signal/constants'
import type { Band } from '#signal/constants'
import { parseMount } from '#signal/mount/mount'
import type { MountOption } from '#signal/mount/mount'
import type { AccUnit } from '#signal/trace/units'
import { parseColumns } from '#signal/trace/parse'
import type { ColumnMapping } from '#signal/trace/parse'
import { UsageError } from './usage-error.ts'

export const ANALYSE_HELP = `Usage: swaybook analyse FILE [options]

Measures a recorded trace (CSV, TSV, JSON or EDF+; - reads standard input) and prints a table.

  --json                   print the whole result as JSON (SI units)
  --rate HZ                samples per second, for a file without a time column; with one:
                           the even rate to measure at
  --unit g|mg|m/s2         unit of the acceleration, when the file does not say it
  --columns t=…,ax=…,ay=…,az=…
                           which column holds what, by header name or number from 1
  --mount auto|identity|x=cranial,y=left,z=dorsal
                           how the sensor sits on the dog: auto (gravity only, the default),
                           identity (x is CC, y is ML, z is DV, no rotation), or as stated
  --interval FROM:TO       measure exactly this interval (seconds from start) as one hold
  --calibrate              correct gain and offset from the recording, when it holds the
                           sensor still in enough positions
  --tremor-band F1:F2      tremor band in Hz instead of 4:12

Exit code 0: a result; 2: this command line; 3: the input cannot be analysed.
`

export interface AnalyseArguments {
  readonly file: string
  readonly json: boolean
  readonly rateHz?: number
  readonly unit?: AccUnit
  readonly columns?: ColumnMapping
  readonly mount: MountOption
  readonly interval?: readonly [number, number]
  readonly bands: readonly Band[]
  readonly calibrate: boolean
}

/** Reads the arguments of `analyse`; null asks for the help. @throws {UsageError} */
export function parseAnalyseArguments(args: readonly string[]): AnalyseArguments | null {
  const { values, positionals } = parsed(args)
  if (values.help) return null
  if (positionals.length !== 1) {
    throw new UsageError(
      `analyse takes one FILE, got ${positionals.length}; swaybook analyse --help shows how`,
    )
  }
  if (values.unit !== undefined && !['g', 'mg', 'm/s2'].includes(values.unit)) {
    throw new UsageError(`--unit must be g, mg or m/s2, got "${values.unit}"`)
  }
  return {
    file: positionals[0],
    json: values.json ?? false,
    rateHz: values.rate === undefined ? undefined : rate(values.rate),
    unit: values.unit as AccUnit | undefined,
    columns: values.columns === undefined ? undefined : usage(() => parseColumns(values.columns!)),
    mount: usage(() => parseMount(values.mount ?? 'auto')),
    interval: values.interval === undefined ? undefined : pair('--interval', values.interval, 'seconds'),
    calibrate: values.calibrate ?? false,
    bands: values['tremor-band'] === undefined ? DEFAULT_BANDS : bands(values['tremor-band']),
  }
}

function parsed(args: readonly string[]) {
  const options = {
    json: { type: 'boolean' },
    help: { type: 'boolean', short: 'h' },
    rate: { type: 'string' },
    unit: { type: 'string' },
    columns: { type: 'string' },
    mount: { type: 'string' },
    interval: { type: 'string' },
    'tremor-band': { type: 'string' },
    calibrate: { type: 'boolean' },
  } as const
  return usage(() => parseArgs({ args: [...args], options, allowPositionals: true }))
}

function rate(text: string): number {
  const value = Number(text)
  if (!(value >= 10 && value <= 2000)) {
    throw new UsageError(`--rate must be a number of samples per second from 10 to 2000, got "${text}"`)
  }
  return value
}

function bands(text: string): readonly Band[] {
  const [fromHz, toHz] = pair('--tremor-band', text, 'Hz')
  if (!(fromHz > 0)) throw new UsageError(`--tremor-band must begin above 0 Hz, got "${text}"`)
  return [{ name: 'tremor', fromHz, toHz }, ...DEFAULT_BANDS.slice(1)]
}

function pair(option: string, text: string, unit: string): readonly [number, number] {
  const match = /^(\d+(?:\.\d*)?|\.\d+):(\d+(?:\.\d*)?|\.\d+)$/.exec(text.trim())
  const [from, to] = match ? [Number(match[1]), Number(match[2])] : [NaN, NaN]
  if (!(to > from)) {
    throw new UsageError(`${option} must be FROM:TO in ${unit} with FROM below TO, got "${text}"`)
  }
  return [from, to]
}

/** What the reading of an argument throws is a matter of usage. */
function usage<T>(read: () => T): T {
  try {
    return read()
  } catch (error) {
    // Node's own messages on arguments run over several lines.
    throw new UsageError((error as Error).message.replace(/\s*\n\s*/g, ' '), { cause: error })
  }
}
