import { describe, expect, test } from 'vitest'
import { analyse } from '#signal/report'
import { parseTrace } from '#signal/trace/parse'
import { exclusions } from '../../dashboard/lib/exclusions.ts'

/** A minute of a quiet stand at 50 Hz as CSV, some of its rows spoilt. */
function excluded(spoil: (row: string, index: number) => string): string[] {
  const rows = Array.from(
    { length: 3000 },
    (_, i) =>
      `${i / 50},${(0.02 * Math.sin(i / 9)).toFixed(4)},${(0.03 * Math.cos(i / 7)).toFixed(4)},${(9.81 + 0.02 * Math.sin(i / 4)).toFixed(4)}`,
  )
  return exclusions(analyse(parseTrace(`t,ax,ay,az\n${rows.map(spoil).join('\n')}\n`)).report)
}

describe('what was left out, and why', () => {
  test('a row that is no sample was told as a piece too short to filter', () => {
    const lines = excluded((row, i) => (i === 2999 ? '-- end of file --' : row))
    expect(lines[0]).toBe('1 row of the file without a usable sample: not a whole time and three axes.')
    expect(lines.join(' ')).not.toMatch(/filter/)
  })

  test('missed samples are counted as rows', () => {
    const lines = excluded((row, i) => (i > 99 && i < 102 ? `${i / 50},,,` : row))
    expect(lines).toContain('2 rows of the file without a usable sample: not a whole time and three axes.')
  })

  test('one duplicate is one sample', () => {
    const lines = excluded((row, i) => (i === 40 ? `${row}\n${row}` : row))
    expect(lines).toContain('1 duplicate sample was merged.')
  })

  test('nothing is said of a whole recording but that its heading is unknown', () => {
    expect(excluded((row) => row)).toEqual([expect.stringMatching(/^Side to side \(ML\)/)])
  })
})
