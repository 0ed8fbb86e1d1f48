import type { HoldReport } from '#signal/report-types'

/** A hold report with the given facts; what is not given is plausible. */
export function madeHold(
  fromS: number,
  toS: number,
  { swayMs2 = 0.1, handsOffS = null as number | null, role = 'exercise' as HoldReport['role'] } = {},
): HoldReport {
  const pair = { ml: null, cc: null }
  return {
    fromS,
    toS,
    durationS: toS - fromS,
    handsOffS,
    role,
    endedBy: 'step',
    sway: {
      rms: { ml: null, cc: null, dv: 0.02, horizontal: swayMs2 },
      range: pair,
      path: 1,
      pathRate: 0.5,
      jerk: 0.1,
      ellipse: {
        area: 0.1,
        major: 0.2,
        minor: 0.1,
        angleDeg: null,
        n: 100,
        convention: '95% prediction ellipse (exact F)',
      },
      spectral: { totalPower: pair, f50Hz: pair, f95Hz: pair, centroidHz: pair, dispersion: pair },
      rmsInterval: null,
      steadinessRatio: null,
    },
    tremor: { bands: [] },
  }
}
