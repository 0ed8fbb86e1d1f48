import { parseArgs } from 'node:util'
import { KILL_KINDS } from './schedule.ts'
import type { KillKind } from './schedule.ts'

export interface SoakOptions {
  readonly minutes: number
  readonly streams: number
  readonly seed: number
  readonly series: 'sqlite' | 'influx'
  readonly kills: readonly KillKind[]
}

export const HELP = `npm run soak -- [options]

Streams to a server that is killed again and again, and compares all that it acknowledged with what was sent.

  --minutes 30          of streaming; the end of it and the comparison come on top
  --streams 50          of 100 Hz × 6 channels, one viewer each
  --seed 1              of what the sensors read and of what goes wrong when
  --series sqlite       or influx: where samples are kept (needs influxd)
  --kills server,network[,influxd]
                        what goes wrong; default: all that the store has
  --out soak-results    folder for result.json, course.csv and course.svg
`

export interface CommandLine {
  readonly options: SoakOptions
  readonly outFolder: string
}

/** @throws {RangeError} for a value that makes no sense, named */
export function readCommandLine(args: readonly string[]): CommandLine | 'help' {
  const { values } = parseArgs({
    args: [...args],
    options: {
      help: { type: 'boolean', default: false },
      minutes: { type: 'string', default: '30' },
      streams: { type: 'string', default: '50' },
      seed: { type: 'string', default: '1' },
      series: { type: 'string', default: 'sqlite' },
      kills: { type: 'string' },
      out: { type: 'string', default: 'soak-results' },
    },
  })
  if (values.help) return 'help'
  const { series } = values
  if (series !== 'sqlite' && series !== 'influx') {
    throw new RangeError(`--series requires sqlite or influx, got ${series}`)
  }
  const options = {
    minutes: positive('minutes', values.minutes),
    streams: Math.ceil(positive('streams', values.streams)),
    seed: positive('seed', values.seed),
    series,
    kills: killKinds(values.kills ?? (series === 'influx' ? 'server,influxd,network' : 'server,network')),
  } as const
  if (series === 'sqlite' && options.kills.includes('influxd')) {
    throw new RangeError('--kills influxd requires --series influx')
  }
  return { options, outFolder: values.out }
}

function positive(name: string, text: string): number {
  const value = Number(text)
  if (value > 0) return value
  throw new RangeError(`--${name} requires a number above 0, got ${text}`)
}

function killKinds(text: string): KillKind[] {
  return text.split(',').map((kind) => {
    const known = KILL_KINDS.find((one) => one === kind)
    if (known) return known
    throw new RangeError(`--kills requires a list of ${KILL_KINDS.join(', ')}, got ${kind}`)
  })
}
