import { describe, expect, it } from 'vitest'
import { LivePipeline } from '#signal/live/pipeline'
import type { LiveHold, LiveReference, LiveStrip, LiveWindow } from '#signal/live/live-types'
import type { MountOption } from '#signal/mount/mount'
import { createRandom } from '#signal/simulator/random'
import { deliver, simulatedStream } from './streams.ts'

/** A pipeline at 100 Hz fed with a function of time, gravity added on z. */
function feed(mount: MountOption = 'identity', rateHz = 100) {
  const windows: LiveWindow[] = []
  const holds: LiveHold[] = []
  const references: LiveReference[] = []
  const strips: LiveStrip[] = []
  const pipeline = new LivePipeline({
    rateHz,
    mount,
    sink: {
      onWindow: (window) => windows.push(window),
      onHold: (hold) => holds.push(hold),
      onReference: (reference) => references.push(reference),
      onStrip: (strip) => strips.push(strip),
    },
  })
  const random = createRandom('pipeline')
  const push = (fromS: number, toS: number, x: (t: number) => number, y: (t: number) => number = () => 0) => {
    const from = Math.round(fromS * rateHz)
    const n = Math.round(toS * rateHz) - from
    const series = (f: (t: number) => number) =>
      Float64Array.from({ length: n }, (_, i) => f((from + i) / rateHz) + 0.002 * random.normal())
    pipeline.push(from, { x: series(x), y: series(y), z: series(() => 9.80665) })
  }
  return { pipeline, push, windows, holds, references, strips }
}
const still = () => 0

describe('LivePipeline', () => {
  it('waits for a reference, and takes the quietest 5 s when no stand is marked', () => {
    const { push, windows, references } = feed()
    push(0, 4.9, still)
    expect(new Set(windows.map(({ state }) => state))).toEqual(new Set(['waiting']))
    expect(windows.every(({ motion, tiltDeg }) => motion === null && tiltDeg === null)).toBe(true)
    push(4.9, 7, still)
    expect(references[0]).toMatchObject({ fromS: 0, toS: 5 })
    expect(references[0].gravityMs2).toBeCloseTo(9.80665, 2)
    expect(windows.at(-1)!.state).toBe('steady')
  })

  it('takes a marked quiet stand when its last sample has come, not before', () => {
    const { pipeline, push, references } = feed()
    push(0, 1, (t) => 3 * Math.sin(12 * t))
    pipeline.mark({ atS: 1, kind: 'quiet-stand-start' })
    pipeline.mark({ atS: 5, kind: 'quiet-stand-end' })
    push(1, 4.9, still)
    expect(references).toEqual([])
    push(4.9, 5, still)
    expect(references.map(({ fromS, toS }) => [fromS, toS])).toEqual([[1, 5]])
  })

  it('takes a stand whose end is never marked to last 10 s', () => {
    const { pipeline, push, references } = feed()
    push(0, 2, still)
    pipeline.mark({ atS: 2, kind: 'quiet-stand-start' })
    push(2, 11.9, still)
    expect(references.every(({ toS }) => toS !== 12)).toBe(true)
    push(11.9, 12.1, still)
    expect(references.at(-1)).toMatchObject({ fromS: 2, toS: 12 })
  })

  it('sends all holds again after a new reference, numbered from 0', () => {
    const { pipeline, push, holds, references } = feed()
    push(0, 8, still)
    push(8, 10, (t) => 3 * Math.sin(12 * t))
    push(10, 16, still)
    expect(holds.at(-1)).toMatchObject({ id: 1, toS: null })
    const before = references.length
    const sent = holds.length
    pipeline.mark({ atS: 11, kind: 'quiet-stand-start' })
    pipeline.mark({ atS: 15, kind: 'quiet-stand-end' })
    expect(references.length).toBe(before + 1)
    expect(holds.slice(sent).map(({ id }) => id)).toEqual([0, 1])
    expect(pipeline.reference).toMatchObject({ fromS: 11, toS: 15 })
  })

  it('ends a hold as signal lost and says no signal when more than 0.25 s are missing', () => {
    const { pipeline, push, windows, holds } = feed()
    push(0, 8, still)
    pipeline.lost(800, 100)
    expect(windows.at(-1)).toMatchObject({ endS: 9, state: 'no signal', coverage: 0, holdS: 0, motion: null })
    expect(holds.at(-1)).toMatchObject({ toS: 8, endedBy: 'signal lost' })
    push(9, 14, still)
    expect(windows.at(-1)!.state).toBe('steady')
    expect(pipeline.holds).toHaveLength(2)
    expect(pipeline.receivedS).toBe(14)
  })

  it('bridges 0.2 s without ending the hold, and shows the loss in the coverage', () => {
    const { pipeline, push, windows } = feed()
    push(0, 8, still)
    push(8.2, 12, still)
    expect(pipeline.holds).toHaveLength(1)
    expect(Math.min(...windows.map(({ coverage }) => coverage))).toBeCloseTo(0.8, 6)
  })

  it('counts single lost samples in the coverage though it fills them', () => {
    const { push, windows, pipeline } = feed()
    for (let k = 0; k < 100; k++) push(k / 10, k / 10 + 0.09, still)
    expect(pipeline.holds.map(({ toS }) => toS)).toEqual([null])
    expect(windows.slice(5, -1).every(({ coverage }) => Math.abs(coverage - 0.9) < 1e-9)).toBe(true)
  })

  it('measures the sway of a sine as its RMS, and a tremor as that of three axes', () => {
    const { push, windows } = feed()
    // 0.5 Hz over the 2 s window is one whole period: RMS A/√2. The low-pass passes it.
    push(0, 12, (t) => 0.2 * Math.sin(Math.PI * t) + 0.1 * Math.sin(2 * Math.PI * 8 * t))
    const { swayMs2, tremorMs2 } = windows.at(-1)!
    // The causal low-pass leaves 0.1·(3.5/8)⁴ of the 8 Hz, below 4 % of the sum of squares.
    expect(swayMs2!).toBeCloseTo(0.2 / Math.SQRT2, 2)
    expect(Math.abs(tremorMs2! / (0.1 / Math.SQRT2) - 1)).toBeLessThan(0.03)
  })

  it('gives no tremor figure where the rate cannot carry 12 Hz', () => {
    const { windows } = deliver(simulatedStream('slow', 25, 20), { sizes: [5], lost: [], tellLosses: true })
    expect(windows.every(({ tremorMs2 }) => tremorMs2 === null)).toBe(true)
    const faster = deliver(simulatedStream('slow', 50, 20), { sizes: [5], lost: [], tellLosses: true })
    expect(faster.windows.at(-1)!.tremorMs2).toBeGreaterThan(0)
  })

  it('draws evenly spaced strips in dog axes that begin anew after a loss', () => {
    const declared: MountOption = { declared: [[0, 1, 0], [-1, 0, 0], [0, 0, 1]] } // prettier-ignore
    const { push, strips } = feed(declared)
    push(0, 6, still)
    push(7, 16, still, (t) => (t > 14 ? 0.5 : 0))
    expect(strips.every(({ stepS }) => stepS === 0.05)).toBe(true)
    expect(strips.map(({ fromS }) => fromS)).toEqual([0, 7])
    // Sensor y points cranially: 0.5 m/s² on it is CC, and ML stays 0.
    expect(strips[1].cc.at(-1)).toBeCloseTo(0.5, 1)
    expect(strips[1].ml.at(-1)).toBeCloseTo(0, 1)
  })

  it('ignores samples and marks after the end', () => {
    const { pipeline, push, windows } = feed()
    push(0, 8, still)
    pipeline.finish()
    const before = windows.length
    const { holds } = pipeline
    push(8, 12, still)
    pipeline.lost(1200, 50)
    pipeline.mark({ atS: 2, kind: 'quiet-stand-start' })
    pipeline.finish()
    expect(windows).toHaveLength(before)
    expect(pipeline.holds).toEqual(holds)
    expect(holds).toEqual([{ id: 0, fromS: 0, toS: 8, endedBy: 'end of recording' }])
  })

  it('refuses a rate that cannot carry the 3.5 Hz low-pass', () => {
    expect(() => feed('identity', 7)).toThrow(RangeError)
  })
})
