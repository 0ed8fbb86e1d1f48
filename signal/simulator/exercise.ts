import type { Random } from './random.ts'
import type { Episode, Surface } from './script.ts'

/** How a repetition goes; durations in seconds. */
export interface RepetitionPlan {
  readonly surface: Surface
  readonly swayMs2: number
  readonly steadiedS: number
  readonly handsOffS: number
  /** A corrective step after the hands-off hold, followed by a second one of this length. */
  readonly stepThenS?: number
  /** Loses balance instead of being helped down. */
  readonly wobblesOff?: boolean
  readonly restS: number
}

/** Up on the surface, steadied, let go, perhaps a step, down, rest. */
export function repetition(plan: RepetitionPlan, random: Random): readonly Episode[] {
  const { surface, swayMs2 } = plan
  const handsOff = (durationS: number): Episode => ({
    kind: 'hold',
    durationS,
    support: 'hands-off',
    surface,
    swayMs2,
  })
  return [
    { kind: 'step-up', durationS: random.uniform(1.6, 2.6) },
    { kind: 'hold', durationS: plan.steadiedS, support: 'hands-on', surface, swayMs2 },
    handsOff(plan.handsOffS),
    ...(plan.stepThenS
      ? [{ kind: 'step', durationS: random.uniform(0.35, 0.7) } as const, handsOff(plan.stepThenS)]
      : []),
    { kind: plan.wobblesOff ? 'wobble-off' : 'step-down', durationS: random.uniform(1.4, 2.2) },
    { kind: 'rest', durationS: plan.restS },
  ]
}

/** Quiet stand on the floor, a few led steps and a pause: how every session starts. */
export function opening(random: Random): readonly Episode[] {
  return [
    { kind: 'quiet-stand', durationS: random.uniform(11, 14) },
    { kind: 'walk', durationS: random.uniform(5, 7) },
    { kind: 'rest', durationS: random.uniform(6, 12) },
  ]
}

/** Length of a list of episodes, s. */
export function totalDurationS(episodes: readonly Episode[]): number {
  return episodes.reduce((sum, { durationS }) => sum + durationS, 0)
}
