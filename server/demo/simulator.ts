import { once } from 'node:events'
import type { Trace } from '#signal/trace/trace'
import { startThread } from '../analysis/thread.ts'
import type { SimulatorRequest } from './simulator-worker.ts'

/** Simulated sessions, made in a thread, one after the other. */
export class Simulator {
  readonly #worker = startThread('./simulator-worker', import.meta.url)
  readonly #closed = new AbortController()
  #turn: Promise<unknown> = Promise.resolve()

  constructor() {
    this.#worker.unref()
  }

  /** The file `programmeTraces(endDateUs)[index]`. */
  programmeCsv(endDateUs: number, index: number): Promise<string> {
    return this.#ask({ kind: 'programme', endDateUs, index })
  }

  liveTrace(seed: number): Promise<Trace> {
    return this.#ask({ kind: 'live', seed })
  }

  /** Requests under way are rejected. */
  async close(): Promise<void> {
    this.#closed.abort()
    await this.#worker.terminate()
  }

  #ask<T>(request: SimulatorRequest): Promise<T> {
    const answer = this.#turn.then(async () => {
      // `once` rejects when the worker emits 'error'.
      const reply = once(this.#worker, 'message', { signal: this.#closed.signal })
      this.#worker.postMessage(request)
      return ((await reply) as [T])[0]
    })
    this.#turn = answer.catch(() => undefined)
    return answer
  }
}
