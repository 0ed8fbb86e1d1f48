import { MotionTicks } from '#signal/hold/motion-ticks'
import { createRandom } from '#signal/simulator/random'

/** Sensor axes at time t, m/s². */
export type Motion = (tS: number) => readonly [number, number, number]

/** Gravity on z and quiet noise of 0.01 m/s². */
export const STILL: Motion = () => [0, 0, 9.80665]

/** Trunk pitched by an angle, quiet. */
export function tilted(degrees: number): Motion {
  const angle = (degrees * Math.PI) / 180
  return () => [9.80665 * Math.sin(angle), 0, 9.80665 * Math.cos(angle)]
}

/** Lively: 2 m/s² at 2 and 5 Hz. */
export const LIVELY: Motion = (tS) => [2 * Math.sin(4 * Math.PI * tS), Math.sin(10 * Math.PI * tS), 9.80665]

export interface Part {
  readonly lengthS: number
  /** Null for lost signal. */
  readonly motion: Motion | null
}

/** Ticks of a recording made of parts, one after the other. */
export function ticksFrom(parts: readonly Part[], rateHz = 100): { ticks: MotionTicks; endS: number } {
  const ticks = new MotionTicks(rateHz)
  const random = createRandom('ticks')
  let fromS = 0
  for (const { lengthS, motion } of parts) {
    const first = Math.round(fromS * rateHz)
    const end = Math.round((fromS + lengthS) * rateHz)
    for (let i = first; motion && i < end; i++) {
      const [x, y, z] = motion(i / rateHz)
      const noisy = (value: number) => value + 0.01 * random.normal()
      ticks.push(i / rateHz, noisy(x), noisy(y), noisy(z))
    }
    fromS += lengthS
  }
  ticks.closeUntil(fromS)
  return { ticks, endS: fromS }
}
