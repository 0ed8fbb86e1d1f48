import { expect, it } from 'vitest'
import { createRandom } from '#signal/simulator/random'
import { flatnessOf } from './flatness.ts'

const MB = 2 ** 20

/** A life of 20 min whose heap fills and is emptied in turn, above what is really kept. */
function course(leakMbPerHour: number) {
  const random = createRandom(7)
  const lives = [
    { pid: 1, startedAtMs: 0, readyAtMs: 0, endedAtMs: 1_200_000, end: 'killed' as const, peakResidentMb: 1 },
  ]
  const usage = Array.from({ length: 600 }, (_, i) => {
    const atMs = i * 2000
    const kept = 40 + (leakMbPerHour * atMs) / 3_600_000
    const heapUsed = (kept + random.uniform(0, 60)) * MB
    const heap = { heapUsed, heapTotal: 0, external: 0, arrayBuffers: 0, loopMs: { p50: 0, p99: 0, max: 0 } }
    return { atMs, life: 0, residentMb: kept + 100, cpuS: 0, openFiles: 50, heap, dataMb: 0 }
  })
  return { usage, lives }
}

const heapOf = (leakMbPerHour: number) => {
  const { usage, lives } = course(leakMbPerHour)
  return flatnessOf(usage, lives).find(({ quantity }) => quantity.startsWith('heap'))!
}

it('sees a leak of 60 MB per hour below a heap that is filled and emptied all the time', () => {
  const { slopePerHour, lowPerHour, highPerHour } = heapOf(60)
  expect(lowPerHour).toBeGreaterThan(0)
  expect(highPerHour).toBeGreaterThan(60)
  // Within a quarter: the least of a minute lies anywhere in the lowest part of the filling.
  expect(Math.abs(slopePerHour - 60)).toBeLessThan(15)
})

it('sees none where the same is kept all the time', () => {
  const { lowPerHour, highPerHour } = heapOf(0)
  expect(lowPerHour).toBeLessThan(0)
  expect(highPerHour).toBeGreaterThan(0)
})

it('leaves out what has too few points to say anything', () => {
  const { usage, lives } = course(0)
  expect(flatnessOf(usage.slice(0, 100), lives)).toEqual([])
})
