/**
 * Loaded into the server before its own code: tells the process that started it what the heap holds and
 * how long its event loop made others wait; asked to, it collects the heap in full first. It ends the server
 * when that process is gone.
 */
import { monitorEventLoopDelay } from 'node:perf_hooks'
import { setFlagsFromString } from 'node:v8'
import { runInNewContext } from 'node:vm'
import { isMainThread } from 'node:worker_threads'

const EVERY_MS = 2000
/** Of the delays; what the monitor itself waits is taken off. */
const RESOLUTION_MS = 10

if (isMainThread && process.send) {
  const delays = monitorEventLoopDelay({ resolution: RESOLUTION_MS })
  const delayMs = (nanoseconds) => Math.max(0, nanoseconds / 1e6 - RESOLUTION_MS)
  delays.enable()
  setInterval(() => {
    const { heapUsed, heapTotal, external, arrayBuffers } = process.memoryUsage()
    const loopMs = {
      p50: delayMs(delays.percentile(50)),
      p99: delayMs(delays.percentile(99)),
      max: delayMs(delays.max),
    }
    delays.reset()
    process.send({ heapUsed, heapTotal, external, arrayBuffers, loopMs }, () => undefined)
  }, EVERY_MS).unref()
  process.on('message', async () => {
    setFlagsFromString('--expose-gc')
    const collect = runInNewContext('gc')
    // What finalizers let go of is free the next time.
    for (let time = 0; time < 3; time++) {
      collect()
      await new Promise((resolve) => setImmediate(resolve))
    }
    const { heapUsed, arrayBuffers } = process.memoryUsage()
    process.send({ collected: { heapUsed, arrayBuffers } }, () => undefined)
  })
  process.on('disconnect', () => process.kill(process.pid, 'SIGKILL'))
  process.channel.unref()
}
