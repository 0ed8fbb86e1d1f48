import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import { Chaos } from './chaos.ts'
import type { ApiAccess } from './check-api.ts'
import { checkRecordings } from './check-recordings.ts'
import type { Progress, RecordingAccount } from './client-messages.ts'
import { ClientsProcess } from './clients-process.ts'
import { call } from './http-call.ts'
import { Influxd } from './influxd.ts'
import { Line } from './line.ts'
import type { SoakOptions } from './options.ts'
import type { SoakResult } from './result.ts'
import { chaosSchedule } from './schedule.ts'
import { ServerLives } from './server-lives.ts'
import { summary } from './summary.ts'
import { UsageWatch } from './usage-watch.ts'

export interface SoakHooks {
  /** Loaded into the server before its own code: to break it on purpose. */
  readonly preload?: string
  readonly signal?: AbortSignal
  say?(text: string): void
  progress?(progress: Progress): void
}

/** Runs the whole soak; nothing of it is left afterwards, however it ends. */
export async function runSoak(options: SoakOptions, hooks: SoakHooks = {}): Promise<SoakResult> {
  const { seed, streams, minutes, series, kills } = options
  const { say = () => undefined, signal = new AbortController().signal } = hooks
  const startedAtMs = Date.now()
  const problems: string[] = []
  const violation = (text: string) => {
    problems.push(text)
    say(`PROBLEM ${text}`)
  }
  const progress: Progress[] = []
  const folder = await mkdtemp(join(tmpdir(), 'swaybook-soak-'))
  const dataFolder = join(folder, 'data')
  const influxd = series === 'influx' ? await Influxd.create(join(folder, 'influxdb')) : null
  const env = influxd?.settings ?? {}
  const server = new ServerLives({ dataFolder, env, preload: hooks.preload, violation })
  const usage = new UsageWatch(server, dataFolder)
  const lines: Line[] = []
  let clients: ClientsProcess | null = null
  try {
    await influxd?.start()
    await influxd?.addDatabase()
    await server.start()
    const api: ApiAccess = { port: server.port, host: server.host, cookie: null }
    for (let slot = 0; slot < streams; slot++) lines.push(await Line.before(server.port, slot))
    usage.start()
    const senders = new ClientsProcess({
      violation,
      progress: (one) => {
        progress.push(one)
        hooks.progress?.(one)
      },
    })
    clients = senders
    const dogs = await addDogs(api, streams)
    senders.begin({
      ...{ seed, host: api.host, cookie: api.cookie },
      slots: lines.map(({ port }, slot) => ({ port, dogId: dogs[slot] })),
    })
    const chaos = new Chaos({ server, influxd, lines, acknowledgedMore: () => senders.acknowledgedMore() })
    const schedule = chaosSchedule({ seed, seconds: minutes * 60, streams, kills })
    say(`${streams} streams for ${minutes} min; ${schedule.length} faults to come`)
    const calm = new AbortController()
    const stop = AbortSignal.any([signal, calm.signal])
    const inChaos = Promise.all([chaos.run(schedule, stop), sleep(minutes * 60_000, null, { signal: stop })])
    try {
      await Promise.race([inChaos, senders.failure()])
    } finally {
      calm.abort()
      // What it waits for was told above already.
      await inChaos.catch(() => undefined)
    }
    say('the recordings come to their end')
    const accounts: readonly RecordingAccount[] = await senders.end()
    const streamedMinutes = (Date.now() - startedAtMs) / 60_000
    say(`${accounts.length} recordings; reading them back`)
    const checked = await checkRecordings({ api, server, dataFolder, accounts, influxd })
    usage.stop()
    problems.push(...checked.problems)
    return summary({
      ...{ options, startedAtMs, minutes: streamedMinutes, accounts, checked, problems, schedule },
      ...{ usage: usage.samples, progress, lives: server.lives, faults: chaos.faults },
    })
  } finally {
    usage.stop()
    await clients?.kill()
    await server.kill()
    await influxd?.kill()
    await Promise.all(lines.map((line) => line.close()))
    await rm(folder, { recursive: true, force: true })
  }
}

async function addDogs(api: ApiAccess, count: number): Promise<string[]> {
  const dogs: string[] = []
  for (let i = 0; i < count; i++) {
    const body = { name: `Juniper ${i + 1}` }
    const { status, text } = await call({ method: 'POST', path: '/api/dogs', ...api, body })
    if (status !== 201) throw new Error(`/api/dogs answered ${status}: ${text}`)
    dogs.push((JSON.parse(text) as { id: string }).id)
  }
  return dogs
}
