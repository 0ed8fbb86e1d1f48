import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { analyse } from '#signal/report'
import { asTrace, deliver, simulatedStream } from './streams.ts'
import type { LostRange, Stream } from './streams.ts'

const RATES = [25, 50, 52, 100, 104, 200]
const streams = RATES.map((rateHz, i) => simulatedStream(`live/${i}`, rateHz, 80))
const HOP_S = 0.1

/** A stream with losses of every kind: single samples, packets, above 0.25 s and above 1 s. */
const lossyStream = fc
  .tuple(fc.constantFrom(...streams), fc.boolean(), fc.constantFrom('none', 'short', 'packets', 'all'))
  .chain(([whole, withMarks, kind]) => {
    const stream: Stream = withMarks ? whole : { ...whole, marks: [] }
    const n = stream.acc.x.length
    const lengths = {
      none: fc.constant(0),
      short: fc.integer({ min: 1, max: Math.ceil(0.06 * stream.rateHz) }),
      packets: fc.constantFrom(4, 10, 16),
      all: fc.oneof(
        fc.integer({ min: 1, max: 16 }),
        fc.integer({ min: Math.ceil(0.26 * stream.rateHz), max: Math.ceil(1.5 * stream.rateHz) }),
      ),
    }[kind]
    const range = fc
      .tuple(fc.integer({ min: 1, max: n - 1 }), lengths)
      .map(([from, length]): LostRange => [from, Math.min(n, from + length)])
    return fc.record({
      stream: fc.constant(stream),
      lost: fc.array(range, { maxLength: kind === 'all' ? 12 : 40 }),
    })
  })
const sizes = fc.array(fc.integer({ min: 1, max: 500 }), { minLength: 1, maxLength: 6 })

describe('LivePipeline', () => {
  it('gives the same windows, holds and stop cues whatever the packet sizes and however losses are told', () => {
    const told = new Set<string>()
    fc.assert(
      fc.property(lossyStream, sizes, sizes, ({ stream, lost }, some, others) => {
        const a = deliver(stream, { sizes: some, lost, tellLosses: false })
        const b = deliver(stream, { sizes: others, lost, tellLosses: true, repeatEvery: 3 })
        // A loss at the very end shows only when it is told.
        expect(b.windows.slice(0, a.windows.length)).toEqual(a.windows)
        expect(b.references).toEqual(a.references)
        expect(b.stops.slice(0, a.stops.length)).toEqual(a.stops)
        for (const { reason } of a.stops) told.add(reason)
        expect(b.holds.map(withoutEnd)).toEqual(a.holds.map(withoutEnd))
        expect(b.holds.slice(0, -1)).toEqual(a.holds.slice(0, -1))
      }),
      { seed: 7, numRuns: 40 },
    )
    expect([...told].sort()).toEqual(['repetitions', 'session-cap', 'short-hold', 'support', 'sway'])
  })

  it('ends with the holds of the analysis of the recording, within one hop', () => {
    fc.assert(
      fc.property(lossyStream, sizes, ({ stream, lost }, some) => {
        const { holds } = deliver(stream, { sizes: some, lost, tellLosses: true })
        const { report } = analyse({ trace: asTrace(stream, lost), unit: 'm/s2' })
        expect(holds).toHaveLength(report.holds.length)
        report.holds.forEach(({ fromS, toS }, i) => {
          expect(Math.abs(holds[i].fromS - fromS)).toBeLessThanOrEqual(HOP_S + 1e-9)
          expect(Math.abs(holds[i].toS! - toS)).toBeLessThanOrEqual(HOP_S + 1e-9)
        })
      }),
      { seed: 8, numRuns: 40 },
    )
  })

  it('ends with the same holds when marks come late, even at the end', () => {
    for (const stream of streams.slice(0, 4)) {
      const lost: LostRange[] = [[900, 930]]
      const prompt = deliver(stream, { sizes: [13], lost, tellLosses: true })
      const stand = stream.marks.findLast(({ kind }) => kind === 'quiet-stand-end')!
      expect(prompt.references.at(-1)!.toS).toBe(stand.atS)
      for (const markDelayS of [0.3, 5, 1000]) {
        const late = deliver(stream, { sizes: [10], lost, tellLosses: false, markDelayS })
        expect(late.holds).toEqual(prompt.holds)
        expect(late.references.at(-1)).toEqual(prompt.references.at(-1))
      }
    }
  })

  it('counts windows up by 0.1 s without a hole, all numbers finite or null', () => {
    fc.assert(
      fc.property(lossyStream, sizes, ({ stream, lost }, some) => {
        const { windows, strips } = deliver(stream, { sizes: some, lost, tellLosses: true })
        windows.forEach((window, i) => {
          expect(window.index).toBe(i)
          expect(window.endS).toBeCloseTo(1 + i / 10, 9)
          for (const value of Object.values(window)) {
            if (typeof value === 'number' && !Number.isFinite(value)) throw new Error(JSON.stringify(window))
          }
          expect(window.coverage).toBeGreaterThanOrEqual(0)
          expect(window.coverage).toBeLessThanOrEqual(1)
          if (window.state === 'steady') expect(window.holdS).toBeGreaterThan(0)
        })
        for (const { ml, cc } of strips) {
          expect(ml).toHaveLength(cc.length)
          expect([...ml, ...cc].every(Number.isFinite)).toBe(true)
        }
      }),
      { seed: 9, numRuns: 15 },
    )
  })

  it('ends every hold it announced, none shorter than 1 s, in ascending order without overlap', () => {
    fc.assert(
      fc.property(lossyStream, sizes, ({ stream, lost }, some) => {
        const { holds, holdEvents } = deliver(stream, { sizes: some, lost, tellLosses: true })
        expect(holds.map(({ id }) => id)).toEqual(holds.map((_, i) => i))
        holds.forEach(({ fromS, toS, endedBy }, i) => {
          expect(toS! - fromS).toBeGreaterThanOrEqual(1 - 1e-9)
          expect(endedBy).not.toBeNull()
          if (i > 0) expect(fromS).toBeGreaterThanOrEqual(holds[i - 1].toS! - 1e-9)
        })
        for (const hold of holds) expect(holdEvents.findLast(({ id }) => id === hold.id)).toEqual(hold)
      }),
      { seed: 10, numRuns: 15 },
    )
  })
})

function withoutEnd({ id, fromS }: { id: number; fromS: number }) {
  return { id, fromS }
}
