import type { Harness, HarnessHandlers } from './harness'
import type { HarnessMessage } from './simulated-harness.worker'

/** The simulated dog, harness and handler of the demo, in a Worker of this browser. */
export class SimulatedHarness implements Harness {
  readonly #handlers: HarnessHandlers
  readonly #seed: number
  #worker: Worker | null = null

  constructor(handlers: HarnessHandlers, seed: number) {
    this.#handlers = handlers
    this.#seed = seed
  }

  start() {
    const worker = new Worker(new URL('./simulated-harness.worker.ts', import.meta.url), { type: 'module' })
    this.#worker = worker
    worker.onmessage = (event: MessageEvent<HarnessMessage>) => this.#receive(event.data)
    worker.onerror = (event) => this.#handlers.onError(event.message || 'The simulated harness stopped.')
    worker.postMessage({ seed: this.#seed })
  }

  stop() {
    this.#worker?.terminate()
    this.#worker = null
  }

  #receive(message: HarnessMessage) {
    switch (message.type) {
      case 'ready':
        this.#handlers.onReady(message)
        break
      case 'samples':
        this.#handlers.onFrame({
          firstIndex: message.firstIndex,
          count: message.values[0].length,
          channels: message.values.length === 6 ? 6 : 3,
          encoding: 'float32',
          arrivedAtUs: message.arrivedAtUs,
          values: message.values,
        })
        break
      case 'mark':
        this.#handlers.onMark(message.mark)
        break
      case 'end':
        this.#handlers.onEnd()
        break
    }
  }
}
