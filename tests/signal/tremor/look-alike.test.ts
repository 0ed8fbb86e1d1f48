import { describe, expect, it } from 'vitest'
import { DEFAULT_BANDS } from '#signal/constants'
import type { BandReport } from '#signal/report-types'
import { createRandom } from '#signal/simulator/random'
import type { DogAxes } from '#signal/sway/dog-axes'
import { tremorBands } from '#signal/tremor/tremor'
import { sines } from '../../reference/signals.ts'
import type { Sine } from '../../reference/signals.ts'

const rateHz = 100

/** Bands of 20 s of noise of 0.01 m/s² with sines on top. */
function bandsOf(components: Partial<Record<keyof DogAxes, Sine[]>>, headingResolved: boolean): BandReport[] {
  const n = 20 * rateHz
  const random = createRandom('look-alikes')
  const axis = (name: keyof DogAxes) =>
    sines(n, rateHz, components[name] ?? []).map((value) => value + 0.01 * random.normal())
  const axes = { ml: axis('ml'), cc: axis('cc'), dv: axis('dv') }
  return tremorBands(axes, rateHz, DEFAULT_BANDS, rateHz, { headingResolved })
}

describe.each([true, false])('look-alikes, heading known: %s', (headingResolved) => {
  it('the second harmonic of a tail wag is a tail wag, not a tremor', () => {
    const [tremor] = bandsOf(
      {
        ml: [
          [0.3, 3.2, 0],
          [0.08, 6.4, 1],
        ],
      },
      headingResolved,
    )
    expect(tremor.distinct).toBe(true)
    expect(Math.abs(tremor.peakHz! - 6.4)).toBeLessThan(0.05)
    expect(tremor.lookalike).toBe('tail wag')
  })

  it('a tremor is no look-alike when the rhythm at half its frequency is weaker, or elsewhere', () => {
    for (const wag of [
      [0.04, 3.6, 0],
      [0.3, 2.4, 0],
    ] as const) {
      const [tremor] = bandsOf({ ml: [wag], cc: [[0.08, 7.2, 1]] }, headingResolved)
      expect(Math.abs(tremor.peakHz! - 7.2)).toBeLessThan(0.05)
      expect(tremor.distinct).toBe(true)
      expect(tremor.lookalike).toBeNull()
    }
  })

  it('the second harmonic of a tremor is a tremor', () => {
    const [, fast] = bandsOf(
      {
        ml: [
          [0.3, 7, 0],
          [0.08, 14, 1],
        ],
      },
      headingResolved,
    )
    expect(fast.distinct).toBe(true)
    expect(fast.lookalike).toBeNull()
  })

  it('slow sideways sway is no tail wag', () => {
    const sway = bandsOf({ ml: [[0.1, 0.8, 0]] }, headingResolved)[2]
    expect(sway.distinct).toBe(true)
    expect(sway.lookalike).toBeNull()
  })
})
