import { describe, expect, it } from 'vitest'
import { withinDeg } from '#signal/hold/direction'
import { angleDeg } from '#signal/mount/rotation'
import { createRandom } from '#signal/simulator/random'

describe('withinDeg', () => {
  it('decides as the angle does, near the limit and at it too', () => {
    const random = createRandom('direction')
    const vector = () => [random.normal(), random.normal(), random.normal()]
    for (let i = 0; i < 2000; i++) {
      const a = vector()
      const b = vector()
      const angle = angleDeg(a, b)
      for (const limitDeg of [5, 10, 12, 35, 90]) {
        expect(withinDeg(limitDeg)(a, b)).toBe(angle <= limitDeg)
      }
      // The limit set on the very angle, and a rounding step to both sides.
      if (angle > 90) continue
      for (const limitDeg of [angle, angle * (1 - 2e-16), angle * (1 + 3e-16)]) {
        expect(withinDeg(limitDeg)(a, b)).toBe(angle <= limitDeg)
      }
    }
  })

  it('takes the zero vector for what angleDeg takes it', () => {
    expect(withinDeg(10)([0, 0, 0], [0, 0, 1])).toBe(angleDeg([0, 0, 0], [0, 0, 1]) <= 10)
  })
})
