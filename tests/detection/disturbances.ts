import type { Rotation } from '#signal/simulator/script'
import type { Trace } from '#signal/trace/trace'

/** A short acceleration of the trunk along a level direction, m/s² over time: shapes the simulator does not play. */
export interface Disturbance {
  readonly atS: number
  readonly lengthS: number
  readonly peakMs2: number
  readonly shape: 'one-sided' | 'biphasic'
  /** Direction in the horizontal plane from CC towards ML, degrees. */
  readonly headingDeg: number
}

/** The trace with the disturbances added, seen through the mount (dog = rotation · sensor). */
export function disturbed(trace: Trace, rotation: Rotation, disturbances: readonly Disturbance[]): Trace {
  const x = trace.acc.x.slice()
  const y = trace.acc.y.slice()
  const z = trace.acc.z.slice()
  for (const { atS, lengthS, peakMs2, shape, headingDeg } of disturbances) {
    const cc = Math.cos((headingDeg * Math.PI) / 180)
    const ml = Math.sin((headingDeg * Math.PI) / 180)
    const [dx, dy, dz] = [0, 1, 2].map((axis) => cc * rotation[0][axis] + ml * rotation[1][axis])
    for (let i = 0; i < trace.t.length; i++) {
      const u = (trace.t[i] - atS) / lengthS
      if (u <= 0 || u >= 1) continue
      const bump = Math.sin(Math.PI * u) ** 2
      const value =
        peakMs2 * (shape === 'one-sided' ? bump : (bump * Math.sin(2 * Math.PI * u)) / BIPHASIC_PEAK)
      x[i] += value * dx
      y[i] += value * dy
      z[i] += value * dz
    }
  }
  return { ...trace, acc: { x, y, z } }
}

/** Largest value of sin²(πu)·sin(2πu): at u = 1/3, (3/4)·(√3/2). */
const BIPHASIC_PEAK = (3 / 4) * (Math.sqrt(3) / 2)
