import { describe, expect, test } from 'vitest'
import { shadePaths, SHADES, shadesOf, strongestRows } from '../../dashboard/lib/time-frequency.ts'

const picture = {
  fromS: 1,
  stepS: 0.5,
  windowS: 2,
  frequencyHz: [0.5, 1, 1.5],
  levels: [
    [-2, -3.01, -9],
    [-2.6, -2, -5.9],
  ],
}

describe('time and frequency of a hold', () => {
  test('the strongest has the darkest shade, four powers of ten below nothing is drawn', () => {
    const { topLevel, shades } = shadesOf(picture)
    expect(topLevel).toBe(-2)
    expect(shades).toEqual([
      [SHADES - 1, SHADES - 3, -1],
      [SHADES - 2, SHADES - 1, 0],
    ])
  })

  test('neighbours of one shade are one shape, and nothing below the lightest is drawn', () => {
    const paths = shadePaths(
      [
        [2, 2, -1],
        [0, 2, 0],
      ],
      (window) => [10 * window, 10 * window + 10],
      (bin) => [100 - 10 * (bin + 1), 100 - 10 * bin],
    )
    expect(paths).toHaveLength(SHADES)
    expect(paths[2]).toBe('M0.0 80.0H10.0V100.0H0.0zM10.0 80.0H20.0V90.0H10.0z')
    expect(paths[0]).toBe('M10.0 90.0H20.0V100.0H10.0zM10.0 70.0H20.0V80.0H10.0z')
    expect(paths[1]).toBe('')
  })

  test('the table names the strongest frequency of a window, in some two dozen rows at most', () => {
    expect(strongestRows(picture)).toEqual([
      { atS: 1, hz: 0.5, level: -2 },
      { atS: 1.5, hz: 1, level: -2 },
    ])
    const long = { ...picture, levels: Array.from({ length: 200 }, () => [-2, -3, -4]) }
    expect(strongestRows(long).length).toBeLessThanOrEqual(24)
  })
})
