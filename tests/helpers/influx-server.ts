import { spawn } from 'node:child_process'
import type { ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { createServer } from 'node:net'
import type { AddressInfo } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import type { InfluxSettings } from '#server/store/influx/settings'
import { INFLUXD } from './influxd.mjs'

export interface InfluxOptions {
  readonly authEnabled?: boolean
  /** Longest body it takes. */
  readonly maxBodyBytes?: number
  /** After how long without writes it packs what it has into files to stay. */
  readonly packAfter?: string
}

/** A real influxd on free ports with a folder of its own. */
export class InfluxProcess {
  readonly folder: string
  readonly port: number
  #child: ChildProcess | null = null

  private constructor(folder: string, port: number) {
    this.folder = folder
    this.port = port
  }

  static async start(options: InfluxOptions = {}) {
    const { authEnabled = false, maxBodyBytes = 25_000_000, packAfter = '10m' } = options
    const folder = await mkdtemp(join(tmpdir(), 'swaybook-influx-'))
    const [port, rpcPort] = await freePorts(2)
    await writeFile(
      join(folder, 'influxdb.conf'),
      `reporting-disabled = true
bind-address = "127.0.0.1:${rpcPort}"
[meta]
  dir = "${folder}/meta"
[data]
  dir = "${folder}/data"
  wal-dir = "${folder}/wal"
  query-log-enabled = false
  cache-snapshot-write-cold-duration = "${packAfter}"
[monitor]
  store-enabled = false
[http]
  bind-address = "127.0.0.1:${port}"
  log-enabled = false
  auth-enabled = ${authEnabled}
  max-body-size = ${maxBodyBytes}
`,
    )
    const server = new InfluxProcess(folder, port)
    await server.run()
    return server
  }

  get url(): string {
    return `http://127.0.0.1:${this.port}`
  }

  /** Resolves once it answers. */
  async run(): Promise<void> {
    const child = spawn(INFLUXD, ['-config', join(this.folder, 'influxdb.conf')], { stdio: 'ignore' })
    this.#child = child
    let exited = false
    child.once('exit', () => (exited = true))
    while (!(await this.#answers())) {
      if (exited) throw new Error('influxd ended at once')
      // It tells nobody when it is ready: asked until it is.
      await wait(20)
    }
  }

  async kill(signal: 'SIGKILL' | 'SIGTERM' = 'SIGKILL'): Promise<void> {
    const child = this.#child
    this.#child = null
    if (!child || child.exitCode !== null || child.signalCode !== null) return
    const exited = once(child, 'exit')
    child.kill(signal)
    await exited
  }

  async remove(): Promise<void> {
    await this.kill()
    await rm(this.folder, { recursive: true, force: true })
  }

  /** InfluxQL as it is, for what the tests set up and read past the store; rows of all its series. */
  async ask(sql: string, database = '', login = ''): Promise<unknown[][]> {
    const url = `${this.url}/query?${new URLSearchParams({ db: database, epoch: 'u' })}`
    const headers = login ? { authorization: `Basic ${Buffer.from(login).toString('base64')}` } : undefined
    const response = await fetch(url, { method: 'POST', body: new URLSearchParams({ q: sql }), headers })
    const { error, results } = (await response.json()) as {
      error?: string
      results?: { error?: string; series?: { values: unknown[][] }[] }[]
    }
    const failed = error ?? results?.find((result) => result.error)?.error
    if (failed) throw new Error(`influxd: ${failed}`)
    return (results ?? []).flatMap(({ series = [] }) => series.flatMap(({ values }) => values))
  }

  async #answers(): Promise<boolean> {
    return fetch(`${this.url}/ping`).then(
      (response) => response.status === 204,
      () => false,
    )
  }
}

let databases = 0

/** A new, empty database; settings to use it, impatient ones. */
export async function newDatabase(server: InfluxProcess, url = server.url): Promise<InfluxSettings> {
  const database = `d${++databases}`
  await server.ask(`CREATE DATABASE ${database}`)
  return settingsFor(url, { api: 'v1', database, login: null })
}

export function settingsFor(url: string, target: InfluxSettings['target']): InfluxSettings {
  return { url, target, timeoutMs: 10_000, firstRetryMs: 20, longestRetryMs: 100 }
}

async function freePorts(count: number): Promise<number[]> {
  const servers = Array.from({ length: count }, () => createServer().listen(0, '127.0.0.1'))
  await Promise.all(servers.map((server) => once(server, 'listening')))
  const ports = servers.map((server) => (server.address() as AddressInfo).port)
  await Promise.all(servers.map((server) => new Promise((resolve) => server.close(resolve))))
  return ports
}
