import { LivePipeline } from '#signal/live/pipeline'
import type { LiveHold, LiveReference, LiveStop, LiveStrip, LiveWindow } from '#signal/live/live-types'
import { COMMON_PRACTICE_STOP_LIMITS } from '#signal/live/stop-limits'
import type { StopLimits } from '#signal/live/stop-limits'
import { randomScript } from '#signal/simulator/population'
import { simulateSession } from '#signal/simulator/session'
import type { Mark, Trace, Vector3Series } from '#signal/trace/trace'

/** Samples by index, as a live source sends them, and the marks of a person. */
export interface Stream {
  readonly rateHz: number
  readonly acc: Vector3Series
  readonly marks: readonly Mark[]
}

/** Indices [from, to). */
export type LostRange = readonly [from: number, to: number]

/** A simulated session on an exact clock, as live samples are stamped by index. */
export function simulatedStream(seed: string, rateHz: number, maxS = Number.POSITIVE_INFINITY): Stream {
  const { trace } = simulateSession({ ...randomScript(seed), rateHz, clock: {} })
  const n = Math.min(trace.t.length, Math.round(maxS * rateHz))
  const cut = (x: Float64Array) => x.slice(0, n)
  const acc = { x: cut(trace.acc.x), y: cut(trace.acc.y), z: cut(trace.acc.z) }
  return { rateHz, acc, marks: trace.marks.filter(({ atS }) => atS < n / rateHz) }
}

/** The recording with the same losses: t = index ÷ rate, lost samples missing. */
export function asTrace({ rateHz, acc, marks }: Stream, lost: readonly LostRange[]): Trace {
  const kept = keptIndices(acc.x.length, lost)
  const take = (x: Float64Array) => Float64Array.from(kept, (i) => x[i])
  return {
    t: Float64Array.from(kept, (i) => i / rateHz),
    acc: { x: take(acc.x), y: take(acc.y), z: take(acc.z) },
    startedAtUs: null,
    rateHz,
    marks,
  }
}

export function keptIndices(n: number, lost: readonly LostRange[]): number[] {
  const isLost = new Uint8Array(n)
  for (const [from, to] of lost) isLost.fill(1, from, Math.min(n, to))
  return Array.from({ length: n }, (_, i) => i).filter((i) => !isLost[i])
}

export interface Delivery {
  /** Packet sizes, used round and round. */
  readonly sizes: readonly number[]
  readonly lost: readonly LostRange[]
  /** Losses are told by `lost()`, or show as index jumps. */
  readonly tellLosses: boolean
  /** Seconds by which marks come after their time; default 0. */
  readonly markDelayS?: number
  /** Every so many packets the last one is sent again with the one before; default never. */
  readonly repeatEvery?: number
  /** Default `LOW_LIMITS`. */
  readonly limits?: StopLimits
}

/** Low enough that simulated sessions pass them all now and then: even a small fall of support does. */
export const LOW_LIMITS: StopLimits = {
  ...COMMON_PRACTICE_STOP_LIMITS,
  sessionCapS: 61.5,
  maxRepetitions: 1,
  swayRatio: 1.05,
  holdRatio: 0.9,
  supportRise: -0.5,
}

export interface Received {
  readonly windows: LiveWindow[]
  /** Every announcement of a hold, in order. */
  readonly holdEvents: LiveHold[]
  readonly references: LiveReference[]
  readonly strips: LiveStrip[]
  /** Every stop cue, in order; those before the newest reference do not count any more. */
  readonly stops: LiveStop[]
  /** Holds known at the end. */
  readonly holds: LiveHold[]
}

/** Feeds a stream to a pipeline and keeps all it says. */
export function deliver({ rateHz, acc, marks }: Stream, delivery: Delivery): Received {
  const windows: LiveWindow[] = []
  const holdEvents: LiveHold[] = []
  const references: LiveReference[] = []
  const strips: LiveStrip[] = []
  const stops: LiveStop[] = []
  const pipeline = new LivePipeline({
    rateHz,
    limits: delivery.limits ?? LOW_LIMITS,
    sink: {
      onWindow: (window) => windows.push(window),
      onHold: (hold) => holdEvents.push(hold),
      onReference: (reference) => references.push(reference),
      onStrip: (strip) => strips.push(strip),
      onStop: (stop) => stops.push(stop),
    },
  })
  const n = acc.x.length
  const isLost = new Uint8Array(n)
  for (const [from, to] of delivery.lost) isLost.fill(1, from, Math.min(n, to))
  // In a loss nobody can tell how far the signal has come: a mark waits for the sample after it.
  const waiting = marks.map((mark) => {
    let index = Math.min(n, Math.ceil((mark.atS + (delivery.markDelayS ?? 0)) * rateHz))
    while (isLost[index - 1] || isLost[index]) index++
    return { mark, index }
  })
  const send = (from: number, to: number) => {
    const cut = (x: Float64Array) => x.slice(from, to)
    pipeline.push(from, { x: cut(acc.x), y: cut(acc.y), z: cut(acc.z) })
  }
  let before = 0
  for (let from = 0, packet = 0; from < n; packet++) {
    while (waiting.length > 0 && waiting[0].index <= from) pipeline.mark(waiting.shift()!.mark)
    // A packet is all lost or all there, and ends where a mark falls.
    const limit = Math.min(n, from + delivery.sizes[packet % delivery.sizes.length], waiting[0]?.index ?? n)
    let to = from + 1
    while (to < limit && isLost[to] === isLost[from]) to++
    if (!isLost[from]) send(from, to)
    else if (delivery.tellLosses) pipeline.lost(from, to - from)
    if (delivery.repeatEvery && packet % delivery.repeatEvery === 0 && !isLost[before]) {
      let end = before
      while (end < to && !isLost[end]) end++
      send(before, end)
    }
    before = from
    from = to
  }
  for (const { mark } of waiting) pipeline.mark(mark)
  if (delivery.tellLosses && isLost[n - 1]) pipeline.lost(n - 1, 1)
  pipeline.finish()
  return { windows, holdEvents, references, strips, stops, holds: pipeline.holds }
}
