import { describe, expect, it } from 'vitest'
import { analyseTrace } from '#signal/report'
import { rotate } from '#signal/mount/rotation'
import type { Row3 } from '#signal/report-types'
import { randomScript } from '#signal/simulator/population'
import { simulateSession } from '#signal/simulator/session'
import { quantile } from './match.ts'

/** Ten quiet seconds and a led walk of a seed's dog, sensor and mount. */
function opening(seed: string) {
  const { mount, ...script } = randomScript(seed)
  const episodes = [
    { kind: 'quiet-stand', durationS: 10 },
    { kind: 'walk', durationS: 5 },
    { kind: 'rest', durationS: 3 },
  ] as const
  return simulateSession({ ...script, mount: { rotation: mount!.rotation }, episodes, overlays: [] })
}

/** Angle between the true CC and that of the report, about DV, degrees. */
function headingErrorDeg(rotation: readonly Row3[], trueCc: Row3): number {
  const [cc, ml] = rotate([rotation[0], rotation[1], rotation[2]], trueCc)
  return (Math.abs(Math.atan2(ml, cc)) * 180) / Math.PI
}

describe.each(['check/', 'walk/'])('heading from a led walk of 5 s, seeds %s', (prefix) => {
  const errors: number[] = []
  let unresolved = 0
  for (let i = 0; i < 60; i++) {
    const { trace, truth } = opening(`${prefix}${i}`)
    const { mount } = analyseTrace({ trace, unit: 'm/s2' })
    if (mount.headingResolved) errors.push(headingErrorDeg(mount.rotation, truth.mountRotation[0]))
    else unresolved++
  }

  it('is found in 95 of 100, within 4° in the median and 10° in 95 of 100, and never back to front', () => {
    expect(unresolved).toBeLessThanOrEqual(3)
    expect(quantile(errors, 0.5)).toBeLessThanOrEqual(4)
    expect(quantile(errors, 0.95)).toBeLessThanOrEqual(10)
    expect(quantile(errors, 1)).toBeLessThan(90)
  })
})
