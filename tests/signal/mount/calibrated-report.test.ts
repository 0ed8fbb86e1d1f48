import { describe, expect, it } from 'vitest'
import { analyseTrace } from '#signal/report'
import { createRandom } from '#signal/simulator/random'
import type { Trace } from '#signal/trace/trace'

const RATE_HZ = 25
const GAIN = [1.02, 0.98, 1.01]
const OFFSET_MS2 = [0.2, -0.15, 0.25]

/** A sensor with errors of gain and offset, laid still in many positions for 12 s each. */
function positions(directions: readonly (readonly [number, number, number])[]): Trace {
  const random = createRandom('calibrated')
  const perPosition = 12 * RATE_HZ
  const n = directions.length * perPosition
  const axis = (k: 0 | 1 | 2) =>
    Float64Array.from({ length: n }, (_, i) => {
      const direction = directions[Math.floor(i / perPosition)]
      const up = (9.80665 * direction[k]) / Math.hypot(...direction)
      return up * GAIN[k] + OFFSET_MS2[k] + 0.005 * random.normal()
    })
  return {
    t: Float64Array.from({ length: n }, (_, i) => i / RATE_HZ),
    acc: { x: axis(0), y: axis(1), z: axis(2) },
    startedAtUs: null,
    rateHz: RATE_HZ,
    marks: [],
  }
}

const ALL_ROUND = [-1, 0, 1]
  .flatMap((x) => [-1, 0, 1].flatMap((y) => [-1, 0, 1].map((z) => [x, y, z] as const)))
  .filter((direction) => Math.hypot(...direction) > 0)

describe('analyse with calibration', () => {
  it('reads gravity right after gain and offset were corrected, and says that they were', () => {
    const trace = positions(ALL_ROUND)
    const [plain, calibrated] = [false, true].map((calibrate) =>
      analyseTrace({ trace, unit: 'm/s2' }, { calibrate }),
    )
    expect(Math.abs(plain.mount.gravity - 9.80665)).toBeGreaterThan(0.05)
    // The weights of the published fit stop a few 1e-5 short of the exact solution.
    expect(Math.abs(calibrated.mount.gravity - 9.80665)).toBeLessThan(0.01)
    expect(calibrated.quality.reasons.join(' ')).toMatch(/Gain and offset .* were corrected/)
  })

  it('changes nothing, and says why, when the sensor lay in too few positions', () => {
    const trace = positions(ALL_ROUND.filter(([, , z]) => z === 1).slice(0, 3))
    const [plain, asked] = [false, true].map((calibrate) =>
      analyseTrace({ trace, unit: 'm/s2' }, { calibrate }),
    )
    expect(asked.mount.gravity).toBe(plain.mount.gravity)
    expect(asked.quality.reasons.join(' ')).toMatch(/Not calibrated: /)
  })
})
