import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { GapFill } from '#signal/live/gap-fill'
import { uniformStretches } from '#signal/trace/resample'
import { asTrace, keptIndices, simulatedStream } from './streams.ts'
import type { LostRange } from './streams.ts'

const whole = simulatedStream('gaps', 100, 8)

/** What comes out of the filler for a stream with losses: index → x, y, z. */
function filled(lost: readonly LostRange[], rateHz: number) {
  const out = new Map<number, number[]>()
  const fill = new GapFill(rateHz, {
    take: (index, x, y, z) => out.set(index, [x, y, z]),
    close: () => undefined,
  })
  const { x, y, z } = whole.acc
  for (const i of keptIndices(x.length, lost)) fill.push(i, x[i], y[i], z[i])
  fill.endRun()
  return out
}

describe('GapFill', () => {
  it('gives the samples that uniformStretches gives for the same losses', () => {
    const n = whole.acc.x.length
    const range = fc
      .tuple(fc.integer({ min: 0, max: n - 1 }), fc.integer({ min: 1, max: 12 }))
      .map(([from, length]): LostRange => [from, Math.min(n, from + length)])
    fc.assert(
      fc.property(fc.array(range, { maxLength: 60 }), fc.constantFrom(25, 50, 100, 200), (lost, rateHz) => {
        const uniform = uniformStretches({ ...asTrace({ ...whole, rateHz, marks: [] }, lost) }, { rateHz })
        const expected = new Map<number, number[]>()
        for (const { startS, acc } of uniform.stretches) {
          acc.x.forEach((x, i) => expected.set(Math.round(startS * rateHz) + i, [x, acc.y[i], acc.z[i]]))
        }
        const got = filled(lost, rateHz)
        expect([...got.keys()]).toEqual([...expected.keys()])
        for (const [index, values] of expected) {
          // Rounding of the times the cubic is evaluated at.
          got.get(index)!.forEach((value, axis) => expect(Math.abs(value - values[axis])).toBeLessThan(1e-8))
        }
      }),
      { seed: 3, numRuns: 60 },
    )
  })

  it('marks what it filled in, and closes gaps as soon as they are known', () => {
    const events: string[] = []
    const fill = new GapFill(100, {
      take: (index, _x, _y, _z, arrived) => events.push(`${index}${arrived ? '' : ' filled'}`),
      close: (index) => events.push(`closed to ${index}`),
    })
    const push = (from: number, to: number) => {
      for (let i = from; i < to; i++) fill.push(i, i, 0, 9.8)
    }
    push(0, 12)
    fill.lost(14)
    expect(events.at(-1)).toBe('11')
    push(14, 16)
    expect(events.slice(-4)).toEqual(['12 filled', '13 filled', '14', '15'])
    fill.lost(30)
    expect(events.at(-1)).toBe('closed to 30')
  })

  it('drops what arrives between two gaps when it is shorter than 0.1 s', () => {
    const got = filled(
      [
        [100, 120],
        [128, 150],
      ],
      100,
    )
    expect([...got.keys()].filter((index) => index >= 100 && index < 150)).toEqual([])
  })
})
