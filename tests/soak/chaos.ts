import { setMaxListeners } from 'node:events'
import { setTimeout as sleep } from 'node:timers/promises'
import type { Influxd } from './influxd.ts'
import type { Line } from './line.ts'
import type { ChaosEvent, InfluxdKill, NetworkFault, ServerKill } from './schedule.ts'
import type { ServerLives } from './server-lives.ts'

/** One thing that was done. */
export interface Fault {
  readonly kind: ChaosEvent['kind']
  readonly what: string
  readonly atMs: number
  readonly untilMs: number
  /** Processes ended or connections hit. */
  readonly hits: number
}

export interface ChaosParts {
  readonly server: ServerLives
  readonly influxd: Influxd | null
  readonly lines: readonly Line[]
  /** Resolves when senders were acknowledged something from now on: a life must not end before it stored anything. */
  acknowledgedMore(): Promise<void>
}

/** Carries the schedule out: kinds go on beside each other, within one kind one after the other. */
export class Chaos {
  readonly faults: Fault[] = []
  readonly #parts: ChaosParts
  readonly #faultsOfLine = new Map<Line, number>()

  constructor(parts: ChaosParts) {
    this.#parts = parts
  }

  /** Resolves when all of it is done and mended; stops early, mended too, when `signal` says so. */
  async run(schedule: readonly ChaosEvent[], signal: AbortSignal): Promise<void> {
    // Every fault under way listens.
    setMaxListeners(0, signal)
    const startMs = performance.now()
    const until = (atS: number) =>
      sleep(Math.max(0, startMs + atS * 1000 - performance.now()), null, { signal })
    const inTurn = async (kind: ChaosEvent['kind']) => {
      for (const event of schedule) {
        if (event.kind !== kind) continue
        await until(event.atS)
        if (event.kind === 'server') await this.#killServer(event, signal)
        else if (event.kind === 'influxd') await this.#killInfluxd(event)
      }
    }
    const network = schedule.filter((event) => event.kind === 'network')
    await Promise.all([
      inTurn('server'),
      inTurn('influxd'),
      ...network.map(async (event) => {
        await until(event.atS)
        await this.#breakNetwork(event, signal)
      }),
    ])
  }

  async #killServer({ downS, againAfterMs }: ServerKill, signal: AbortSignal): Promise<void> {
    const { server, acknowledgedMore } = this.#parts
    await acknowledgedMore()
    signal.throwIfAborted()
    const atMs = Date.now()
    await server.kill()
    await sleep(downS * 1000)
    if (againAfterMs === null) await server.start()
    else await server.startTwice(againAfterMs)
    const hits = againAfterMs === null ? 1 : 2
    this.faults.push({ kind: 'server', what: 'kill -9', atMs, untilMs: Date.now(), hits })
  }

  async #killInfluxd({ downS }: InfluxdKill): Promise<void> {
    const { influxd } = this.#parts
    if (!influxd) throw new Error('killing influxd requires --series influx')
    const atMs = Date.now()
    await influxd.kill()
    await sleep(downS * 1000)
    await influxd.start()
    this.faults.push({ kind: 'influxd', what: 'kill -9', atMs, untilMs: Date.now(), hits: 1 })
  }

  async #breakNetwork({ fault, slots, forS, delayMs }: NetworkFault, signal: AbortSignal): Promise<void> {
    const lines = slots.map((slot) => this.#parts.lines[slot])
    const atMs = Date.now()
    let hits = 0
    for (const line of lines) {
      this.#faultsOfLine.set(line, (this.#faultsOfLine.get(line) ?? 0) + 1)
      hits += fault === 'cut' ? line.cut() : fault === 'swallow' ? line.swallow() : line.slow(delayMs)
    }
    try {
      await sleep(forS * 1000, null, { signal })
    } finally {
      for (const line of lines) {
        const left = this.#faultsOfLine.get(line)! - 1
        this.#faultsOfLine.set(line, left)
        // Two faults may lie over each other: the last one mends all.
        if (left === 0) line.restore()
      }
      this.faults.push({ kind: 'network', what: fault, atMs, untilMs: Date.now(), hits })
    }
  }
}
