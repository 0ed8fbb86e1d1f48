import { describe, expect, it } from 'vitest'
import { StripHistory } from '#protocol/strip-history'

const strip = (fromS: number, count: number) => ({
  fromS,
  stepS: 0.05,
  ml: Array.from({ length: count }, (_, i) => i),
  cc: Array.from({ length: count }, (_, i) => -i),
})

describe('StripHistory', () => {
  it('joins a strip that follows on and keeps one behind a loss apart', () => {
    const history = new StripHistory()
    for (const next of [strip(0, 2), strip(0.1, 2), strip(0.5, 2)]) history.add(next)
    expect(history.newest().map(({ fromS, ml, cc }) => [fromS, ml, cc])).toEqual([
      [0, [0, 1, 0, 1], [-0, -1, -0, -1]],
      [0.5, [0, 1], [-0, -1]],
    ])
  })

  it('keeps the newest 30 s, however many losses lie in them', () => {
    const history = new StripHistory()
    history.add(strip(0, 100))
    for (let k = 1; k < 400; k++) {
      history.add(strip(k * 0.3, 4))
      const strips = history.newest()
      const endS = k * 0.3 + 4 * 0.05
      expect(strips[0].fromS).toBeGreaterThanOrEqual(Math.max(0, endS - 30) - 1e-9)
      expect(strips[0].fromS).toBeLessThan(Math.max(0.1, endS - 29))
    }
  })

  it('keeps the newest 30 s of a stream without a loss, value by value', () => {
    const history = new StripHistory()
    const values = Array.from({ length: 2000 }, (_, i) => i)
    for (let k = 0; k < 2000; k += 2) {
      history.add({ fromS: k * 0.05, stepS: 0.05, ml: values.slice(k, k + 2), cc: values.slice(k, k + 2) })
      const [{ fromS, ml, cc }, ...more] = history.newest()
      expect(more).toEqual([])
      const from = Math.max(0, k + 2 - 600)
      expect(fromS).toBeCloseTo(from * 0.05, 6)
      expect(ml).toEqual(values.slice(from, k + 2))
      expect(cc).toEqual(ml)
    }
  })

  it('gives copies that later samples do not change', () => {
    const history = new StripHistory()
    history.add(strip(0, 2))
    const [before] = history.newest()
    history.add(strip(0.1, 2))
    expect(before.ml).toEqual([0, 1])
    history.clear()
    expect(history.newest()).toEqual([])
  })
})
