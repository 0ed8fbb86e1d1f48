import { spawn } from 'node:child_process'
import type { ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { createServer } from 'node:net'
import type { AddressInfo } from 'node:net'
import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'

export const INFLUX_DATABASE = 'swaybook'
const READY_MS = 60_000
const ASK_EVERY_MS = 50

/** An InfluxDB 1.x of its own on loopback, killed and started as the soak likes. */
export class Influxd {
  readonly url: string
  readonly #folder: string
  readonly #config: string
  #child: ChildProcess | null = null
  #log = ''

  private constructor(folder: string, port: number, backupPort: number) {
    this.#folder = folder
    this.url = `http://127.0.0.1:${port}`
    this.#config = join(folder, 'influxdb.conf')
    mkdirSync(folder, { recursive: true })
    writeFileSync(this.#config, settings(folder, port, backupPort))
  }

  static async create(folder: string): Promise<Influxd> {
    return new Influxd(folder, await freePort(), await freePort())
  }

  /** What the server is told about it. */
  get settings(): Record<string, string> {
    return { SWAYBOOK_SERIES: 'influx', INFLUX_URL: this.url, INFLUX_DATABASE }
  }

  get pid(): number | null {
    return this.#child?.pid ?? null
  }

  /** Starts it and waits until it answers. */
  async start(): Promise<void> {
    const child = spawn('influxd', ['-config', this.#config], {
      cwd: this.#folder,
      stdio: ['ignore', 'ignore', 'pipe'],
      detached: true,
    })
    this.#child = child
    child.stderr.on('data', (text: Buffer) => (this.#log = (this.#log + text.toString()).slice(-10_000)))
    const failed = once(child, 'exit').then(() => {
      throw new Error(`influxd ended: ${this.#log.slice(-2000)}`)
    })
    // Once it answers its end is told by `kill`.
    failed.catch(() => undefined)
    await Promise.race([failed, this.#answers()])
  }

  async addDatabase(): Promise<void> {
    const body = new URLSearchParams({ q: `CREATE DATABASE "${INFLUX_DATABASE}"` })
    const response = await fetch(`${this.url}/query`, { method: 'POST', body })
    if (!response.ok) throw new Error(`InfluxDB answered ${response.status}: ${await response.text()}`)
  }

  /** kill -9, and waits until it is gone. */
  async kill(): Promise<void> {
    const child = this.#child
    if (!child) return
    this.#child = null
    if (child.exitCode !== null || child.signalCode !== null) return
    const gone = once(child, 'exit')
    child.kill('SIGKILL')
    await gone
  }

  async #answers(): Promise<void> {
    for (
      const untilMs = performance.now() + READY_MS;
      performance.now() < untilMs;
      await sleep(ASK_EVERY_MS)
    ) {
      const answer = await fetch(`${this.url}/ping`).catch((error: unknown) => error)
      if (answer instanceof Response && answer.status === 204) return
    }
    throw new Error(`influxd does not answer within ${READY_MS / 1000} s: ${this.#log.slice(-2000)}`)
  }
}

async function freePort(): Promise<number> {
  const server = createServer()
  server.listen(0, '127.0.0.1')
  await once(server, 'listening')
  const { port } = server.address() as AddressInfo
  await new Promise((resolve) => server.close(resolve))
  return port
}

function settings(folder: string, port: number, backupPort: number): string {
  return `reporting-disabled = true
bind-address = "127.0.0.1:${backupPort}"
[meta]
  dir = "${folder}/meta"
[data]
  dir = "${folder}/data"
  wal-dir = "${folder}/wal"
  query-log-enabled = false
[http]
  bind-address = "127.0.0.1:${port}"
  log-enabled = false
[monitor]
  store-enabled = false
`
}
