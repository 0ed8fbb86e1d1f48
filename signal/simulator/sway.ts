import { STANDARD_GRAVITY_MS2, SWAY_CUTOFF_HZ, SWAY_FILTER_ORDER } from '../constants.ts'
import { BODY_RATE_HZ } from './body-motion.ts'
import type { Random } from './random.ts'

/** The trunk as an inverted pendulum held up by active stiffness, in one direction. */
export interface Pendulum {
  readonly naturalHz: number
  /** Share of critical damping. */
  readonly damping: number
  /** Height of the sensor above the paws, m. */
  readonly heightM: number
  /** Tilt of the trunk over lean of the legs: four legs shear more than they tip. */
  readonly tiltPerLean: number
}

/** The stand over which an expected sway RMS is meant: slower drift is taken out by its own mean. */
const REFERENCE_STAND_S = 10
/** Time constant of the two low-pass stages that colour the muscles' noise, s. */
const MUSCLE_LAG_S = 0.1

/**
 * Lean angle in rad, shape (n), of a pendulum driven by low-passed white noise:
 * lean'' + 2ζω₀·lean' + ω₀²·lean = coloured noise. Scaled so that the horizontal specific force
 * height·lean'' − g·tilt, low-passed at 3.5 Hz, is expected to have 1 m/s² RMS over a 10 s stand.
 */
export function unitLean(n: number, pendulum: Pendulum, random: Random): Float64Array {
  const omega = 2 * Math.PI * pendulum.naturalHz
  const dtS = 1 / BODY_RATE_HZ
  const noise = Math.sqrt(BODY_RATE_HZ) / expectedRms(pendulum)
  const settle = 15 * BODY_RATE_HZ
  const out = new Float64Array(n)
  let first = 0
  let second = 0
  let lean = 0
  let speed = 0
  for (let i = -settle; i < n; i++) {
    first += ((noise * random.normal() - first) * dtS) / MUSCLE_LAG_S
    second += ((first - second) * dtS) / MUSCLE_LAG_S
    speed += (second - 2 * pendulum.damping * omega * speed - omega * omega * lean) * dtS
    lean += speed * dtS
    if (i >= 0) out[i] = lean
  }
  return out
}

/** RMS that noise of unit (two-sided) density would give, by summing the spectrum. */
function expectedRms({ naturalHz, damping, heightM, tiltPerLean }: Pendulum): number {
  const natural = 2 * Math.PI * naturalHz
  const stepHz = 0.005
  let power = 0
  for (let frequencyHz = stepHz / 2; frequencyHz < 12; frequencyHz += stepHz) {
    const omega = 2 * Math.PI * frequencyHz
    const muscle = 1 / (1 + (omega * MUSCLE_LAG_S) ** 2) ** 2
    const pendulum = 1 / ((natural ** 2 - omega ** 2) ** 2 + (2 * damping * natural * omega) ** 2)
    const force = (heightM * omega ** 2 + STANDARD_GRAVITY_MS2 * tiltPerLean) ** 2
    const lowPass = 1 / (1 + (frequencyHz / SWAY_CUTOFF_HZ) ** (2 * SWAY_FILTER_ORDER)) ** 2
    const x = Math.PI * frequencyHz * REFERENCE_STAND_S
    const meanRemoved = 1 - (Math.sin(x) / x) ** 2
    power += 2 * muscle * pendulum * force * lowPass * meanRemoved * stepHz
  }
  return Math.sqrt(power)
}
