import { describe, expect, it } from 'vitest'
import { withStrip } from '#protocol/session-picture'

const strip = (fromS: number, count: number) => ({
  fromS,
  stepS: 0.05,
  ml: Array.from({ length: count }, (_, i) => i),
  cc: Array.from({ length: count }, (_, i) => -i),
})

describe('withStrip', () => {
  it('joins a strip that follows on and keeps one behind a loss apart', () => {
    const strips = [strip(0, 2), strip(0.1, 2), strip(0.5, 2)].reduce(withStrip, [])
    expect(strips.map(({ fromS, ml }) => [fromS, ml.length])).toEqual([
      [0, 4],
      [0.5, 2],
    ])
  })

  it('keeps the newest 30 s, however many losses lie in them', () => {
    let strips = withStrip([], strip(0, 100))
    for (let k = 1; k < 400; k++) strips = withStrip(strips, strip(k * 0.3, 4))
    const last = strips.at(-1)!
    const endS = last.fromS + last.ml.length * last.stepS
    expect(strips[0].fromS).toBeGreaterThanOrEqual(endS - 30 - 1e-9)
    expect(strips[0].fromS).toBeLessThan(endS - 29)
  })
})
