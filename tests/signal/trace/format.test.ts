import { describe, expect, test } from 'vitest'
import fc from 'fast-check'
import { MARK_KINDS } from '../../../signal/trace/trace.ts'
import { formatTraceCsv } from '../../../signal/trace/format.ts'
import { parseTrace } from '../../../signal/trace/parse.ts'
import { evenTimes, madeTrace } from './made-trace.ts'
import type { Mark, Trace } from '../../../signal/trace/trace.ts'

const steps = fc.array(fc.double({ min: 0.005, max: 0.04, noNaN: true }), { minLength: 120, maxLength: 150 })
const value = fc.double({ min: -2, max: 2, noNaN: true })
const mark = fc.record(
  {
    at: fc.oneof(fc.nat(119), fc.double({ min: 0, max: 2, noNaN: true })),
    kind: fc.constantFrom(...MARK_KINDS),
    note: fc.oneof(fc.string(), fc.constantFrom('walk-start', 'a "b", c', ' x ', '#', 'two\nlines', '')),
  },
  { requiredKeys: ['at', 'kind'] },
)

/** Traces as the parser gives them: t from 0, a rate that fits the times, marks in order. */
const traces: fc.Arbitrary<Trace> = fc
  .record({
    steps,
    values: fc.array(value, { minLength: 6, maxLength: 40 }),
    startedAtUs: fc.option(fc.integer({ min: 0, max: 4_000_000_000_000_000 })),
    hasGyro: fc.boolean(),
    marks: fc.array(mark, { maxLength: 12 }),
  })
  .map(({ steps, values, startedAtUs, hasGyro, marks }) => {
    let at = 0
    const t = Float64Array.from(steps, (step, i) => (i === 0 ? 0 : (at += step)))
    const channel = (shift: number, mean = 0) => t.map((_, i) => mean + values[(i + shift) % values.length])
    const ordered: Mark[] = marks
      .map(({ at, kind, note }) => ({
        atS: Number.isInteger(at) ? t[at] : at,
        kind,
        ...(note === undefined ? {} : { note }),
      }))
      .sort((a, b) => a.atS - b.atS)
    const shown = [...t.subarray(1).map((tS, i) => tS - t[i])].sort((a, b) => a - b)
    return {
      t,
      acc: { x: channel(0), y: channel(1), z: channel(2, 9.8) },
      ...(hasGyro ? { gyr: { x: channel(3), y: channel(4), z: channel(5) } } : {}),
      startedAtUs,
      rateHz: 1 / shown[shown.length >> 1],
      marks: ordered,
    }
  })

describe('formatTraceCsv', () => {
  test('what it writes is read back identically', () => {
    fc.assert(
      fc.property(traces, (trace) => {
        const found = parseTrace(formatTraceCsv(trace))
        expect(found.trace).toEqual(trace)
        expect([found.unit, found.unitBasis, found.unusedSamples, found.duplicates]).toEqual([
          'm/s2',
          'header',
          0,
          0,
        ])
      }),
      { seed: 2026, numRuns: 150 },
    )
  })
  test('the header names quantity and unit, and marks on samples stand in their columns', () => {
    const trace = madeTrace(evenTimes(150, 100), 100)
    const text = formatTraceCsv({
      ...trace,
      startedAtUs: 1_772_600_000_123_456,
      marks: [
        { atS: 0.01, kind: 'support-on' },
        { atS: 0.02, kind: 'note', note: 'on the "pad", calm' },
      ],
    })
    expect(text.split('\n').slice(0, 7)).toEqual([
      '# started: 2026-03-04T04:53:20.123456Z',
      '# rate: 100 Hz',
      '# unit: m/s2',
      't_s,ax_mps2,ay_mps2,az_mps2,support,mark',
      '0,0,0,9.80665,,',
      '0.01,0,0,9.80665,on,',
      '0.02,0,0,9.80665,,"on the ""pad"", calm"',
    ])
  })
  test('decimals round the values, not the times', () => {
    const trace = madeTrace(evenTimes(150, 128), 128, { x: () => 0.123456 })
    const found = parseTrace(formatTraceCsv(trace, { decimals: 3 })).trace
    expect(found.acc.x[0]).toBe(0.123)
    expect(found.t).toEqual(trace.t)
    expect(() => formatTraceCsv(trace, { decimals: 1.5 })).toThrow(RangeError)
  })
})
