import { parentPort } from 'node:worker_threads'
import { liveDemoScript } from '#signal/simulator/live-demo'
import { simulateSession } from '#signal/simulator/session'
import { programmeTraces } from './programme-traces.ts'

/** Simulating a session takes a second or so: done here, it does not stop the server's event loop. */
export type SimulatorRequest =
  | { readonly kind: 'programme'; readonly endDateUs: number; readonly index: number }
  | { readonly kind: 'live'; readonly seed: number }

if (!parentPort) throw new Error('simulator-worker.ts runs as a worker thread only')
const port = parentPort

port.on('message', (request: SimulatorRequest) => {
  if (request.kind === 'live') {
    port.postMessage(simulateSession(liveDemoScript(request.seed)).trace)
  } else {
    port.postMessage(programmeTraces(request.endDateUs)[request.index].csv())
  }
})
