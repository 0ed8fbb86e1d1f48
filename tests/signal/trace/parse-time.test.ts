import { describe, expect, test } from 'vitest'
import { parseTrace } from '../../../signal/trace/parse.ts'
import { codeOf, errorOf } from './trace-errors.ts'
import { csv, stillRow } from './made-csv.ts'

const START_S = 1_772_600_000 // 2026-03-04T04:53:20Z

describe('time columns', () => {
  const forms: [string, (i: number) => string][] = [
    ['t', (i) => (i / 100).toFixed(2)],
    ['time_ms', (i) => `${i * 10}`],
    ['timestamp_us', (i) => `${i * 10_000}`],
    ['t [ns]', (i) => `${i * 10_000_000}`],
    ['time', (i) => `${i * 10}`],
  ]
  test.each(forms)('%s gives seconds from the first sample and no start', (name, stamp) => {
    const { trace } = parseTrace(csv(`${name},ax,ay,az`, (i) => `${stamp(i + 3)},0,0,1`))
    expect(trace.t[0]).toBe(0)
    expect(trace.t[150]).toBeCloseTo(1.5, 12) // the difference of two rounded decimals
    expect([trace.rateHz, trace.startedAtUs]).toEqual([100, null])
  })

  const epochs: [string, (i: number) => string][] = [
    ['timestamp', (i) => `${START_S + Math.floor(i / 100)}.${String(i % 100).padStart(2, '0')}`],
    ['timestamp', (i) => `${START_S * 1000 + i * 10}`],
    ['timestamp', (i) => `${START_S * 1e6 + i * 10_000}`],
    ['timestamp', (i) => `${BigInt(START_S) * 1_000_000_000n + BigInt(i) * 10_000_000n}`],
    ['time', (i) => new Date(START_S * 1000 + i * 10).toISOString()],
    ['time', (i) => new Date(START_S * 1000 + 3_600_000 + i * 10).toISOString().replace('Z', '+01:00')],
    ['time', (i) => new Date(START_S * 1000 + i * 10).toISOString().replace('T', ' ')],
  ]
  test.each(epochs)('%s since 1970 or with a zone gives the start (%#)', (name, stamp) => {
    const { trace } = parseTrace(csv(`${name},ax,ay,az`, (i) => `${stamp(i)},0,0,1`))
    expect(trace.startedAtUs).toBe(START_S * 1e6)
    expect(trace.t[150]).toBeCloseTo(1.5, 12)
    expect(trace.rateHz).toBe(100)
  })

  test('ISO times without a zone are used, but the start stays unknown, with a note', () => {
    const stamp = (i: number) => new Date(START_S * 1000 + i * 10).toISOString().replace('Z', '')
    const { trace, notes } = parseTrace(csv('time,ax,ay,az', (i) => `${stamp(i)},0,0,1`))
    expect(trace.startedAtUs).toBeNull()
    expect(notes.join()).toContain('no zone')
  })

  test('nanoseconds since 1970 keep every digit, beyond what a float64 of the stamp holds', () => {
    const first = 1_772_600_000_123_456_789n
    const text = csv('timestamp_ns,ax,ay,az', (i) => `${first + BigInt(i) * 10_000_001n},0,0,1`)
    const { trace, stampResolutionS } = parseTrace(text)
    expect(trace.t[1]).toBe(0.010000001)
    expect(trace.t[199]).toBe(1.990000199)
    expect(trace.startedAtUs).toBe(1_772_600_000_123_457) // rounded to the microsecond
    expect(stampResolutionS).toBe(1e-9)
  })

  test.each([
    ['t', (i: number) => (i / 100).toFixed(3), 1e-3],
    ['t_ms', (i: number) => `${i * 10}`, 1e-3],
    ['t_ns', (i: number) => `${i * 10_000_000 + 7000 * (i % 2)}`, 1e-6],
    ['time', (i: number) => new Date(START_S * 1000 + i * 10).toISOString(), 1e-3],
  ])('the resolution of %s stamps is what their digits show', (name, stamp, resolutionS) => {
    const found = parseTrace(csv(`${name},ax,ay,az`, (i) => `${stamp(i)},0,0,1`))
    expect(found.stampResolutionS).toBeCloseTo(resolutionS, 15)
  })

  test('rounded stamps do not bias the nominal rate: 104 Hz in whole milliseconds', () => {
    const { trace } = parseTrace(csv('t_ms,ax,ay,az', (i) => `${Math.round((i * 1000) / 104)},0,0,1`, 500))
    // The median step is 10 ms (100 Hz); the mean of 499 steps is off by less than 1 ms in 4.8 s.
    expect(Math.abs(trace.rateHz - 104)).toBeLessThan(0.03)
  })

  test('# started and # rate lines are used, and a rate the times contradict is not', () => {
    const body = csv('t,ax,ay,az', stillRow)
    const found = parseTrace(`# started: 2026-03-04T04:53:20Z\n# rate: 100.4 Hz\n${body}`)
    expect([found.trace.startedAtUs, found.trace.rateHz]).toEqual([START_S * 1e6, 100.4])
    const wrong = parseTrace(`# started: yesterday\n# rate: 50 Hz\n${body}`)
    expect([wrong.trace.startedAtUs, wrong.trace.rateHz]).toEqual([null, 100])
    expect(wrong.notes.join()).toMatch(/"yesterday".*the times were used/)
    expect(parseTrace(`# rate: 25 Hz\n${csv('ax,ay,az', () => '0,0,1')}`).trace.t[25]).toBe(1)
  })

  test.each([['2026-02-30T00:00:00Z'], ['2026-03-04T24:00:00Z'], ['soon'], ['']])(
    '"%s" among ISO times is refused with its line',
    (cell) => {
      const stamp = (i: number) => (i === 20 ? cell : new Date(START_S * 1000 + i * 10).toISOString())
      const error = errorOf(() => parseTrace(csv('time,ax,ay,az', (i) => `${stamp(i)},0,0,1`)))
      expect([error.code, error.line, error.column]).toEqual(['BAD_TIME', 22, 'time'])
    },
  )

  test.each([0, -1, NaN, Infinity, 4, 2001])('a rate of %s is refused', (rateHz) => {
    expect(
      codeOf(() =>
        parseTrace(
          csv('ax,ay,az', () => '0,0,1'),
          { rateHz },
        ),
      ),
    ).toBe('BAD_RATE')
  })
})

describe('order of time', () => {
  const rows = Array.from({ length: 200 }, (_, i) => `${(i / 100).toFixed(2)},${(i % 7) / 10},${i % 3},9.8`)
  const text = (list: string[]) => `t,ax,ay,az\n${list.join('\n')}\n`

  test('rows repeated exactly are dropped and counted', () => {
    const found = parseTrace(text(rows.flatMap((row, i) => (i % 20 === 5 ? [row, row] : [row]))))
    expect(found.duplicates).toBe(10)
    expect(found.trace).toEqual(parseTrace(text(rows)).trace)
  })
  test('a file in which every row stands twice is read once', () => {
    const found = parseTrace(text(rows.flatMap((row) => [row, row])))
    expect(found.duplicates).toBe(200)
    expect(found.trace).toEqual(parseTrace(text(rows)).trace)
  })
  test('a packet that comes late into its hole is put in its place, with a note', () => {
    const late = [...rows.slice(0, 50), ...rows.slice(60, 70), ...rows.slice(50, 60), ...rows.slice(70)]
    const found = parseTrace(text(late))
    expect(found.trace).toEqual(parseTrace(text(rows)).trace)
    expect(found.notes.join()).toContain('10 rows stood out of order')
  })
  test('the same time with other values is refused with its line', () => {
    const list = [...rows]
    list[80] = list[79].replace(',9.8', ',9.9')
    expect(errorOf(() => parseTrace(text(list)))).toMatchObject({ code: 'TIME_ORDER', line: 82 })
  })
  test('a clock set back by seconds is refused with its line', () => {
    const list = [...rows, ...rows.slice(0, 50)]
    expect(errorOf(() => parseTrace(text(list)))).toMatchObject({ code: 'TIME_ORDER', line: 202 })
  })
  test('a clock set back by less than a second is not mistaken for a late packet', () => {
    const shifted = Array.from({ length: 60 }, (_, i) => `${(1.505 + i / 100).toFixed(3)},1,2,9.8`)
    expect(errorOf(() => parseTrace(text([...rows, ...shifted])))).toMatchObject({
      code: 'TIME_ORDER',
      line: 202,
    })
  })
  test.each(['time', 'time [s]'])(
    '%s coarser than the samples is refused, asking for the rate, and a mapping without t reads them',
    (name) => {
      const coarse = csv(`${name},ax,ay,az`, (i) => `${START_S + Math.floor(i / 50)},${i % 5},0,9.8`, 500)
      const error = errorOf(() => parseTrace(coarse))
      expect(error.code).toBe('COARSE_TIME')
      expect(error.remedy).toContain('samples per second')
      const columns = { ax: 'ax', ay: 'ay', az: 'az' }
      expect(parseTrace(coarse, { columns, rateHz: 50 }).trace.t[50]).toBe(1)
    },
  )
  test('a time that never advances is refused', () => {
    expect(codeOf(() => parseTrace(csv('t,ax,ay,az', (i) => `5,${i},0,9.8`)))).toBe('COARSE_TIME')
  })
})

describe('times before zero', () => {
  test('show their resolution as times after it do', () => {
    const at = (fromS: number) =>
      parseTrace(csv('t_s,ax,ay,az', (i) => `${(fromS + i / 100).toFixed(2)},${i % 5},0,9.8`, 300))
    expect(at(-10).stampResolutionS).toBe(at(10).stampResolutionS)
    expect(at(-10).trace.t[299]).toBeCloseTo(2.99, 9)
  })
})
