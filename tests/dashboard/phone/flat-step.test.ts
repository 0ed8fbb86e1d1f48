import { describe, expect, it } from 'vitest'
import { createRandom } from '#signal/simulator/random'
import { eventRateHz, flatPhone } from '../../../dashboard/sources/phone/flat-step'
import type { FlatPhone } from '../../../dashboard/sources/phone/flat-step'
import { valueStep } from '../../../dashboard/sources/phone/value-step'
import type { MotionSample } from '../../../dashboard/sources/phone/motion-events'
import { lying, stamps } from './made-motion'

const SECONDS_3 = stamps(180, 60)

function accepted(samples: MotionSample[]): FlatPhone {
  const outcome = flatPhone(samples)
  if (!('phone' in outcome)) throw new Error(outcome.refusal)
  return outcome.phone
}

function refusal(samples: MotionSample[]): string {
  const outcome = flatPhone(samples)
  return 'refusal' in outcome ? outcome.refusal : 'accepted'
}

describe('flatPhone', () => {
  it('keeps the signs of an engine that follows the standard: +9.8 on z with the screen up', () => {
    // Device Orientation and Motion (W3C): a device flat, screen up, reads accelerationIncludingGravity.z = 9.8.
    expect(accepted(lying(SECONDS_3)).sign).toBe(1)
  })

  it('turns those of an engine that mirrors all axes', () => {
    expect(accepted(lying(SECONDS_3, () => [0, 0, -9.8])).sign).toBe(-1)
  })

  it('measures the rate from the stamps and says what the phone has', () => {
    const random = createRandom('flat')
    const jittered = stamps(300, 100, () => random.uniform(-1, 1))
    expect(accepted(lying(jittered, undefined, false))).toMatchObject({ rateHz: 100, channels: 3 })
    expect(accepted(lying(SECONDS_3))).toMatchObject({ rateHz: 60, channels: 6 })
  })

  it('finds the 0.1 m/s² that browsers round to, also where the phone shows one value per axis', () => {
    expect(accepted(lying(SECONDS_3)).resolutionMs2).toBe(0.1)
    // As JavaScript has it: 97 · 0.1 is 9.700000000000001.
    const rounded = lying(SECONDS_3, (i) => [0.1 * (i % 2), -0.1 * (i % 3), 0.1 * (97 + (i % 2))])
    expect(accepted(rounded).resolutionMs2).toBe(0.1)
  })

  it('finds the step of a sensor that no browser rounds, and none where there is none', () => {
    const step = 9.80665 / 4096
    const random = createRandom('step')
    const onLattice = lying(SECONDS_3, () => [
      step * Math.round(random.uniform(-3, 3)),
      step * Math.round(random.uniform(-3, 3)),
      step * (4096 + Math.round(random.uniform(-3, 3))),
    ])
    expect(accepted(onLattice).resolutionMs2).toBeCloseTo(step, 6)
    const smooth = lying(SECONDS_3, () => [random.uniform(-0.02, 0.02), random.uniform(-0.02, 0.02), 9.8])
    expect(accepted(smooth).resolutionMs2).toBeNull()
  })

  it('refuses in words a phone that moves, lies crooked, does not read gravity, or is too slow', () => {
    expect(refusal(lying(SECONDS_3, (i) => [0.4 * Math.sin(i), 0, 9.8]))).toContain('The phone moved')
    expect(refusal(lying(SECONDS_3, () => [0, 6.9, 6.9]))).toContain('does not lie flat')
    expect(refusal(lying(SECONDS_3, () => [0, 0, 1]))).toContain("instead of gravity's 9.8")
    expect(refusal(lying(stamps(60, 20)))).toContain('at least 30 a second')
    expect(refusal([])).toContain('0 readings')
  })

  it('refuses a phone of whose steps more than 5 % are longer than 50 ms, and takes one with fewer', () => {
    const withLate = (every: number) => {
      let atMs = 0
      return lying(
        Array.from({ length: 180 }, (_, i) => (atMs += i % every === every - 1 ? 4000 / 60 : 1000 / 60)),
      )
    }
    expect(refusal(withLate(15))).toContain('too unevenly: 7 %')
    expect(accepted(withLate(30)).rateHz).toBe(60)
  })
})

describe('eventRateHz', () => {
  it('is not slowed down by events that never came', () => {
    const missed = stamps(180, 60).filter((_, i) => i % 25 !== 0)
    // The plain count over the span would say 57.6.
    expect(eventRateHz(missed)).toBe(60)
  })

  it('keeps a rate that is no whole number', () => {
    expect(eventRateHz(stamps(300, 97.3))).toBeCloseTo(97.3, 1)
  })
})

describe('valueStep', () => {
  it('says nothing from a handful of values', () => {
    expect(valueStep([Float64Array.of(0.1, 0.2)])).toBeNull()
  })
})
