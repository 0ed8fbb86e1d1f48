import { describe, expect, test } from 'vitest'
import { parseTrace } from '../../../signal/trace/parse.ts'
import { codeOf, errorOf } from './trace-errors.ts'
import { jsonErrorOffset } from '../../../signal/trace/json-error.ts'

const t = Array.from({ length: 200 }, (_, i) => i / 100)
const x = t.map((s) => Math.sin(s))
const zeros = t.map(() => 0)
const nines = t.map(() => 9.81)
const acc = { x, y: zeros, z: nines }

describe('JSON traces', () => {
  test('an object of columns, one of samples, records, and rows hold the same trace', () => {
    const expected = parseTrace(JSON.stringify({ t, acc })).trace
    expect([...expected.acc.x]).toEqual(x)
    const samples = t.map((s, i) => [s, x[i], 0, 9.81])
    const records = t.map((s, i) => ({ t: s, ax: x[i], ay: 0, az: 9.81 }))
    const nested = t.map((s, i) => ({ time: s, acceleration: { x: x[i], y: 0, z: 9.81 } }))
    for (const form of [{ samples }, records, nested, samples]) {
      expect(parseTrace(JSON.stringify(form)).trace).toEqual(expected)
    }
  })
  test('start, rate, unit, gyroscope and marks are taken over', () => {
    const marks = [
      { atS: 0.5, kind: 'support-on' },
      { atS: 0.2, kind: 'note', note: 'floor' },
    ]
    const { trace, unit, unitBasis } = parseTrace(
      JSON.stringify({
        startedAt: '2026-03-04T04:53:20Z',
        rateHz: 100,
        unit: 'g',
        acc: { x, y: zeros, z: t.map(() => 1) },
        gyr: acc,
        marks,
      }),
    )
    expect([unit, unitBasis, trace.rateHz, trace.startedAtUs]).toEqual([
      'g',
      'header',
      100,
      1_772_600_000_000_000,
    ])
    expect(trace.t[100]).toBe(1)
    expect(trace.gyr?.z[0]).toBe(9.81)
    expect(trace.marks.map(({ kind }) => kind)).toEqual(['note', 'support-on'])
  })
  test('null axes are a missed sample; one null axis names sample and column', () => {
    const missing = t.map((s, i) => ({
      t: s,
      ax: 0,
      ay: 0,
      az: 9.81,
      ...(i === 9 && { ax: null, ay: null, az: null }),
    }))
    expect(parseTrace(JSON.stringify(missing)).unusedSamples).toBe(1)
    const broken = t.map((s, i) => ({ t: s, ax: i === 9 ? null : 0, ay: 0, az: 9.81 }))
    const error = errorOf(() => parseTrace(JSON.stringify(broken)))
    expect(error).toMatchObject({ code: 'BAD_NUMBER', line: 10, column: 'ax' })
    expect(error.message).toMatch(/^sample 10, column "ax"/)
  })
  test.each([
    ['{}', 'BAD_JSON'],
    ['{"t": [1], "acc": {"x": [1], "y": [1]}}', 'BAD_JSON'],
    ['{"t": [1, 2], "acc": {"x": [1], "y": [1], "z": [1]}}', 'BAD_JSON'],
    ['{"samples": [[1, 2, 3]]}', 'BAD_JSON'],
    ['{"samples": [[1, 2, 3, 4], [1, 2, 3]]}', 'RAGGED_ROW'],
    ['{"samples": []}', 'BAD_JSON'],
    ['{"acc": {"x": [], "y": [], "z": []}}', 'EMPTY'],
    ['{"rateHz": "fast", "acc": {"x": [], "y": [], "z": []}}', 'BAD_JSON'],
    ['[{"t": 0, "ax": {"deep": {"er": 1}}}]', 'BAD_VALUE'],
    ['[null]', 'BAD_VALUE'],
    ['[[0, 0, 0, 1], 5]', 'BAD_VALUE'],
    ['{"marks": 5, "acc": {}}', 'BAD_JSON'],
  ])('%s ends in %s', (text, code) => expect(codeOf(() => parseTrace(text))).toBe(code))
  test('a mark without a known kind is refused', () => {
    const text = JSON.stringify({ t, acc, marks: [{ atS: 1, kind: 'jump' }] })
    expect(errorOf(() => parseTrace(text)).message).toContain('mark 1 cannot be read')
  })
  test.each([
    ['{"a" 1}', 5],
    ['[1,, 2]', 3],
    ['[1, 2', 6],
    ['{"a": 1,}', 8],
    ['[1] x', 4],
    ['["a\nb"]', 1],
    ['{1: 2}', 1],
  ])('the place where %j stops being JSON is found', (text, offset) => {
    expect(() => JSON.parse(text) as unknown).toThrow()
    expect(Math.abs(jsonErrorOffset(text) - offset)).toBeLessThanOrEqual(1) // a key's quote or what follows it
  })
})
