import type { Trace } from '../../../signal/trace/trace.ts'

/** Reproducible numbers in [0, 1): the mulberry32 generator (public domain, from memory). */
export function seeded(seed: number): () => number {
  let state = seed >>> 0
  return () => {
    state = (state + 0x6d2b79f5) >>> 0
    let mixed = Math.imul(state ^ (state >>> 15), state | 1)
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61)) ^ mixed
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296
  }
}

/** Normal deviates of standard deviation 1 by Box and Muller. */
export function seededNormal(seed: number): () => number {
  const uniform = seeded(seed)
  return () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform())
}

/** A trace with the axes given as functions of time in s and sample index. */
export function madeTrace(
  times: Float64Array | number[],
  rateHz: number,
  axes: { x?: Axis; y?: Axis; z?: Axis } = {},
): Trace {
  const t = Float64Array.from(times)
  const channel = (axis: Axis) => t.map((tS, i) => axis(tS, i))
  return {
    t,
    acc: {
      x: channel(axes.x ?? (() => 0)),
      y: channel(axes.y ?? (() => 0)),
      z: channel(axes.z ?? (() => 9.80665)),
    },
    startedAtUs: null,
    rateHz,
    marks: [],
  }
}

type Axis = (tS: number, i: number) => number

/** i / rate for i < count. */
export function evenTimes(count: number, rateHz: number): Float64Array {
  return Float64Array.from({ length: count }, (_, i) => i / rateHz)
}
