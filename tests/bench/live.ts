/**
 * `npm run bench:live`: how many live streams one server carries. Beside every number stands that
 * of a bare WebSocket server passing as many bytes to as many clients: on a shared machine read the
 * ratio, and the columns that say what else was running. Not part of the tests.
 *
 *   --streams 1,50,100,300,400,500   streams of 100 Hz × 6 channels, one viewer each
 *   --seconds 15  --warm-up 6  --ramp 4   of each round
 *   --repeats 1                      rounds of each; the table shows medians
 *   --json <path>                    every round in full
 *   --no-floor                       the server only
 *   --profile <folder>               a CPU profile of the server per round (slower)
 */
import { fork } from 'node:child_process'
import type { ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { prepare } from '../../server/bootstrap.mjs'
import { startServer } from '../helpers/running-server.ts'
import type { RunningServer } from '../helpers/running-server.ts'
import { usageOf } from './live/process-usage.ts'
import type { Usage } from './live/process-usage.ts'
import type { Order, Report, Round, RoundResult } from './live/round.ts'
import { countStored, differenceThroughApi } from './live/stored.ts'
import type { StoredCount } from './live/stored.ts'
import { formatTable } from './live/table.ts'

export interface Measured extends RoundResult {
  readonly streams: number
  /** Processor use of the side that was measured, of one core; null where it cannot be read. */
  readonly cpuShare: number | null
  readonly residentMb: number | null
  /** The same of everything else on the machine but server and clients. */
  readonly othersShare: number | null
}

export interface ServerMeasured extends Measured {
  readonly stored: StoredCount
  /** First difference between what the API gives and what was sent, of the streams looked at. */
  readonly apiDifference: string | null
  readonly serverLog: string
}

/** Streams finished and read back through the API. */
const FINISHED_STREAMS = 3
/** The target: one node carries 300 streams with p99 below this, ms, without loss. */
const LIMIT_MS = 150

const { values: args } = parseArgs({
  options: {
    streams: { type: 'string', default: '1,50,100,300,400,500' },
    seconds: { type: 'string', default: '15' },
    'warm-up': { type: 'string', default: '6' },
    ramp: { type: 'string', default: '4' },
    repeats: { type: 'string', default: '1' },
    json: { type: 'string' },
    'no-floor': { type: 'boolean', default: false },
    profile: { type: 'string' },
  },
})

const timing = {
  rampS: number('ramp'),
  warmUpS: number('warm-up'),
  seconds: number('seconds'),
}

function number(name: 'seconds' | 'warm-up' | 'ramp' | 'repeats'): number {
  const value = Number(args[name])
  if (value >= 0) return value
  throw new RangeError(`--${name} requires a number from 0, got ${args[name]}`)
}

function startChild(file: string): ChildProcess {
  const script = fileURLToPath(new URL(file, import.meta.url))
  return fork(script, { execArgv: ['--conditions=source', '--import', 'tsx'] })
}

/** Runs the clients against `pid`; `after` may use the connections before they end. */
async function measure<T>(
  round: Round,
  pid: number,
  after: (clients: ChildProcess, result: RoundResult) => Promise<T>,
) {
  const clients = startChild('./live/clients.ts')
  try {
    let from: Usage | null = null
    let to: Usage | null = null
    const result = await new Promise<RoundResult>((resolve, reject) => {
      clients.once('exit', (code) => reject(new Error(`the clients ended with ${code}`)))
      clients.on('message', (report: Report) => {
        if (report.kind === 'measuring') from = usageOf(pid)
        else if (report.kind === 'measured') to = usageOf(pid)
        else resolve(report.result)
      })
      clients.send({ kind: 'round', round } satisfies Order)
    })
    if (!from || !to) throw new Error('the clients measured nothing')
    const extra = await after(clients, result)
    return { ...result, ...usage(round, result, from, to), ...extra }
  } finally {
    clients.kill()
  }
}

function usage({ sessions }: Round, { clientCpuS }: RoundResult, from: Usage, to: Usage) {
  const seconds = (to.atMs - from.atMs) / 1000
  const ownS = from.cpuS === null || to.cpuS === null ? null : to.cpuS - from.cpuS
  return {
    streams: sessions.length,
    cpuShare: ownS === null ? null : ownS / seconds,
    residentMb: to.residentMb,
    othersShare:
      ownS === null ? null : Math.max(0, to.machineS - from.machineS - ownS - clientCpuS) / seconds,
  }
}

async function measureFloor(streams: number): Promise<Measured> {
  const floor = startChild('./live/floor.ts')
  try {
    const [{ port }] = (await once(floor, 'message')) as [{ port: number }]
    const sessions = Array.from({ length: streams }, (_, i) => `floor-${i}`)
    return await measure(
      { wsUrl: `ws://127.0.0.1:${port}`, sessions, ...timing },
      floor.pid!,
      async () => ({}),
    )
  } finally {
    floor.kill()
  }
}

async function measureServer(streams: number): Promise<ServerMeasured> {
  const dataFolder = mkdtempSync(join(tmpdir(), 'swaybook-bench-'))
  const nodeArgs = args.profile ? ['--cpu-prof', `--cpu-prof-dir=${args.profile}`] : []
  const server = await startServer({ dataFolder, nodeArgs, env: { LOG_LEVEL: 'error' } })
  try {
    const sessions = await addSessions(server.url, streams)
    const round = { wsUrl: server.url.replace('http', 'ws'), sessions, ...timing }
    const measured = await measure(round, server.pid, async (clients, result) => {
      const some = [...sessions.keys()].slice(0, FINISHED_STREAMS)
      clients.send({ kind: 'finish', streams: some } satisfies Order)
      await once(clients, 'exit')
      return { apiDifference: await firstDifference(server, sessions, some, result) }
    })
    await server.stop()
    const stored = await countStored(dataFolder, measured.sentSamples)
    return { ...measured, stored, serverLog: server.stderr() }
  } finally {
    await server.kill()
    rmSync(dataFolder, { recursive: true, force: true })
  }
}

async function firstDifference(
  { url }: RunningServer,
  sessions: readonly string[],
  streams: readonly number[],
  { sentSamples }: RoundResult,
): Promise<string | null> {
  for (const stream of streams) {
    const difference = await differenceThroughApi(url, sessions[stream], stream, sentSamples[stream])
    if (difference) return difference
  }
  return null
}

async function addSessions(url: string, count: number): Promise<string[]> {
  const { id: dogId } = await post(`${url}/api/dogs`, { name: 'Juniper' })
  const sessions: string[] = []
  for (let i = 0; i < count; i++) {
    sessions.push((await post(`${url}/api/sessions`, { dogId, sensor: 'simulated harness' })).id)
  }
  return sessions
}

async function post(url: string, body: object): Promise<{ id: string }> {
  const headers = { 'content-type': 'application/json' }
  const response = await fetch(url, { method: 'POST', headers, body: JSON.stringify(body) })
  if (!response.ok) throw new Error(`${url} answered ${response.status}: ${await response.text()}`)
  return (await response.json()) as { id: string }
}

prepare({ dashboard: false })
const rounds: { streams: number; floor: Measured | null; server: ServerMeasured }[] = []
const counts = args.streams.split(',').map(Number)
for (const streams of counts) {
  for (let repeat = 0; repeat < number('repeats'); repeat++) {
    const floor = args['no-floor'] ? null : await measureFloor(streams)
    const server = await measureServer(streams)
    rounds.push({ streams, floor, server })
    console.error(
      `${streams} streams: p99 ${server.latencyMs.p99.toFixed(1)} ms` +
        (floor ? `, floor ${floor.latencyMs.p99.toFixed(1)} ms` : ''),
    )
    await sleep(500)
  }
}
console.log(formatTable(rounds, LIMIT_MS))
if (args.json)
  writeFileSync(args.json, JSON.stringify({ at: new Date().toISOString(), ...timing, rounds }, null, 1))
