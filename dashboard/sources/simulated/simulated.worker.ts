import { liveDemoScript } from '#signal/simulator/live-demo'
import { simulateSession } from '#signal/simulator/session'
import type { Mark } from '#signal/trace/trace'

/** Plays a simulated session in real time. In a Worker: timers of a hidden page are slowed down. */
export type SimulatedMessage =
  | { type: 'ready'; rateHz: number; channels: 3 | 6; resolutionMs2: number | undefined }
  | { type: 'samples'; firstIndex: number; values: Float64Array[] }
  | { type: 'mark'; mark: Mark }
  | { type: 'end' }

const STEP_MS = 100

function post(message: SimulatedMessage) {
  self.postMessage(message)
}

function play(seed: number) {
  const script = liveDemoScript(seed)
  const { trace } = simulateSession(script)
  const { rateHz, t, acc, gyr, marks } = trace
  const channels = [acc.x, acc.y, acc.z, ...(gyr ? [gyr.x, gyr.y, gyr.z] : [])]
  const startMs = performance.now()
  post({ type: 'ready', rateHz, channels: gyr ? 6 : 3, resolutionMs2: script.sensor?.stepMs2 })

  let next = 0
  let nextMark = 0
  const timer = setInterval(() => {
    const elapsedS = (performance.now() - startMs) / 1000
    while (next < t.length && t[next] <= elapsedS) {
      const to = endOfRun(t, next, elapsedS, rateHz)
      // A hole in the simulated trace is a jump of the index: those samples never arrived.
      const firstIndex = Math.round(t[next] * rateHz)
      const values = channels.map((channel) => channel.slice(next, to))
      post({ type: 'samples', firstIndex, values })
      next = to
    }
    while (nextMark < marks.length && marks[nextMark].atS <= elapsedS) {
      post({ type: 'mark', mark: marks[nextMark++] })
    }
    if (next < t.length) return
    clearInterval(timer)
    post({ type: 'end' })
  }, STEP_MS)
}

/** One past the last sample that is due and follows sample `from` without a hole. */
function endOfRun(t: Float64Array, from: number, elapsedS: number, rateHz: number): number {
  let to = from + 1
  while (
    to < t.length &&
    t[to] <= elapsedS &&
    Math.round(t[to] * rateHz) === Math.round(t[to - 1] * rateHz) + 1
  ) {
    to++
  }
  return to
}

self.onmessage = (event: MessageEvent<{ seed: number }>) => play(event.data.seed)
