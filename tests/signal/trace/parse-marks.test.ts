import { describe, expect, test } from 'vitest'
import { parseTrace } from '../../../signal/trace/parse.ts'
import { errorOf } from './trace-errors.ts'
import { csv } from './made-csv.ts'

const withColumn = (name: string, cellAt: (i: number) => string) =>
  csv(`t,ax,ay,az,${name}`, (i) => `${i / 100},0,0,1,${cellAt(i)}`)

describe('marks', () => {
  test.each([
    ['on', 'off'],
    ['1', '0'],
    ['hands-on', 'hands-off'],
    ['True', 'False'],
  ])('the support column gives a mark at its first value and at each change (%s/%s)', (on, off) => {
    const { trace } = parseTrace(
      withColumn('support', (i) => (i < 50 ? on : i < 120 ? off : i < 150 ? '' : on)),
    )
    expect(trace.marks).toEqual([
      { atS: 0, kind: 'support-on' },
      { atS: 0.5, kind: 'support-off' },
      { atS: 1.5, kind: 'support-on' },
    ])
  })
  test('other text in the support column is refused with its place', () => {
    const error = errorOf(() => parseTrace(withColumn('support', (i) => (i === 7 ? 'perhaps' : 'on'))))
    expect(error).toMatchObject({ code: 'BAD_VALUE', line: 9, column: 'support', value: 'perhaps' })
  })
  test.each(['mark', 'event', 'Marker'])('the %s column holds kinds and notes', (name) => {
    const cell = (i: number) => ({ 10: 'quiet-stand-start', 60: '"shifted, left hind"' })[i] ?? ''
    expect(parseTrace(withColumn(name, cell)).trace.marks).toEqual([
      { atS: 0.1, kind: 'quiet-stand-start' },
      { atS: 0.6, kind: 'note', note: 'shifted, left hind' },
    ])
  })
  test('a mark on a missed sample keeps its time', () => {
    const text = csv('t,ax,ay,az,mark', (i) => (i === 30 ? '0.3,,,,note here' : `${i / 100},0,0,1,`))
    expect(parseTrace(text).trace.marks).toEqual([{ atS: 0.3, kind: 'note', note: 'note here' }])
  })
  test('# mark lines are read, and a broken one is refused with its line', () => {
    const body = csv('t,ax,ay,az', (i) => `${i / 100},0,0,1`)
    expect(parseTrace(`# mark: 0.123 walk-start "to the \\"mat\\""\n${body}`).trace.marks).toEqual([
      { atS: 0.123, kind: 'walk-start', note: 'to the "mat"' },
    ])
    for (const broken of ['soon walk-start', '1 jump', '1 note "open', '']) {
      expect(errorOf(() => parseTrace(`#\n# mark: ${broken}\n${body}`))).toMatchObject({
        code: 'BAD_VALUE',
        line: 2,
      })
    }
  })
})
