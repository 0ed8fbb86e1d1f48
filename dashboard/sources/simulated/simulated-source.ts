import type { SensorSource, SourceHandlers } from '../source'
import type { SimulatedMessage } from './simulated.worker'

/** The simulated sensor sits so, within a few degrees. */
const MOUNT = 'x=cranial,y=left,z=dorsal'

/** The simulated dog, harness and handler of the demo, in a Worker of this browser. */
export class SimulatedSource implements SensorSource {
  readonly sensor = 'simulated harness'
  readonly #seed: number
  #handlers: SourceHandlers | null = null
  #worker: Worker | null = null

  /** @param seed the same seed plays the same session again */
  constructor(seed: number = crypto.getRandomValues(new Uint32Array(1))[0]) {
    this.#seed = seed
  }

  start(handlers: SourceHandlers) {
    this.#handlers = handlers
    handlers.onState({ phase: 'connecting', words: 'The simulated harness is getting ready …' })
    const worker = new Worker(new URL('./simulated.worker.ts', import.meta.url), { type: 'module' })
    this.#worker = worker
    worker.onmessage = (event: MessageEvent<SimulatedMessage>) => this.#receive(event.data)
    worker.onerror = (event) => {
      const words = `The simulated harness stopped (${event.message || 'unknown reason'}). Start it again.`
      this.#handlers?.onState({ phase: 'failed', words })
    }
    worker.postMessage({ seed: this.#seed })
  }

  stop() {
    this.#worker?.terminate()
    this.#worker = null
    this.#handlers = null
  }

  #receive(message: SimulatedMessage) {
    const handlers = this.#handlers
    if (!handlers) return
    switch (message.type) {
      case 'ready':
        handlers.onInfo({
          nominalRateHz: message.rateHz,
          channels: message.channels,
          resolutionMs2: message.resolutionMs2,
          mount: MOUNT,
          description: { name: 'Simulated harness' },
        })
        handlers.onState({ phase: 'streaming', words: 'The simulated harness sends.' })
        break
      case 'samples': {
        const { firstIndex, values } = message
        handlers.onPacket({ firstIndex, values, arrivedAtMs: performance.now() })
        break
      }
      case 'mark':
        handlers.onMark(message.mark)
        break
      case 'end':
        handlers.onEnd()
        break
    }
  }
}
