import { describe, expect, it } from 'vitest'
import { spectralMoments } from '#signal/spectrum/moments'
import { welch } from '#signal/spectrum/welch'
import { sines } from '../../reference/signals.ts'

/** A density that is zero but for the given bins of 0.1 Hz. */
function lines(bins: Record<number, number>) {
  const density = new Float64Array(501)
  for (const [bin, value] of Object.entries(bins)) density[Number(bin)] = value
  return { frequencyHz: density.map((_, k) => (k * 100) / 1000), density, segments: 1, rateHz: 100 }
}

describe('spectralMoments', () => {
  it('of a single line have that frequency and no dispersion', () => {
    const moments = spectralMoments(lines({ 12: 3 }))!
    expect(moments.totalPower).toBeCloseTo(0.3, 12)
    expect([moments.f50Hz, moments.f95Hz]).toEqual([1.2, 1.2])
    expect(moments.centroidHz).toBeCloseTo(1.2, 12)
    // √ of the rounding of 1 − 1.
    expect(moments.dispersion).toBeLessThan(1e-7)
  })

  it('of two equal lines follow the definition: half of the power is reached at the first', () => {
    const moments = spectralMoments(lines({ 10: 1, 30: 1 }))!
    expect([moments.f50Hz, moments.f95Hz]).toEqual([1, 3])
    expect(moments.centroidHz).toBeCloseTo(Math.sqrt(5), 12)
    expect(moments.dispersion).toBeCloseTo(Math.sqrt(1 - 16 / 20), 12)
  })

  it('count the bins on both edges of 0.15–5 Hz and none outside', () => {
    expect(spectralMoments(lines({ 1: 1, 51: 1 }))).toBeNull()
    expect(spectralMoments(lines({ 50: 1 }))!.f50Hz).toBe(5)
    const fine = { ...lines({ 3: 1 }), frequencyHz: new Float64Array(501).map((_, k) => 0.05 * k) }
    // 3 · 0.05 rounds to just above 0.15; it still lies on the edge.
    expect(spectralMoments(fine, [0.15, 0.15])!.f50Hz).toBeCloseTo(0.15, 12)
  })

  it('are null without power', () => {
    expect(spectralMoments(lines({}))).toBeNull()
  })

  it('find a slow sine through the whole chain', () => {
    const psd = welch(sines(1000, 100, [[0.1, 0.5, 0]]), 100, { segmentSamples: 1000 })
    expect(spectralMoments(psd)!.totalPower).toBeCloseTo(0.005, 9)
    expect(spectralMoments(psd)!.f50Hz).toBe(0.5)
  })
})
