import type { HoldReport, RepetitionReport } from '../report-types.ts'

/** Limits a plan sets; the analysis says where they were passed, never that more could be done. */
export interface PlanLimits {
  readonly sessionCapS: number
  /** A hold swaying more than this many times the first one is a sign to stop. */
  readonly swayRatio: number
  /** A hold shorter than this share of the first one is a sign to stop. */
  readonly holdRatio: number
  readonly maxRepetitions: number
  readonly basis: string
}

/** Used when the recording comes without a plan: sessions up to about 5 min, about three repetitions. */
export const COMMON_PRACTICE_LIMITS: PlanLimits = {
  sessionCapS: 300,
  swayRatio: 1.5,
  holdRatio: 0.5,
  maxRepetitions: 5,
  basis: 'common practice, no plan given',
}

/** Share of the hold time with hands on may rise this much from first to last repetition. */
const SUPPORT_RISE = 0.25

/** Sentences naming each limit that was passed and when; empty when none was. */
export function planWarnings(
  durationS: number,
  holds: readonly HoldReport[],
  repetitions: readonly RepetitionReport[],
  limits: PlanLimits,
): string[] {
  const warnings: string[] = []
  const because = `(${limits.basis})`
  if (durationS > limits.sessionCapS) {
    warnings.push(
      `The recording lasted ${minutes(durationS)}, the limit is ${minutes(limits.sessionCapS)} ${because}.`,
    )
  }
  const done = repetitions.filter((repetition) => repetition.holdS > 0)
  if (done.length > limits.maxRepetitions) {
    warnings.push(`${done.length} repetitions, the limit is ${limits.maxRepetitions} ${because}.`)
  }
  const [first, ...later] = done
  if (!first) return warnings
  const swaying = later.find((r) => swayRatio(r, first) > limits.swayRatio)
  if (swaying) {
    const times = swayRatio(swaying, first).toFixed(1)
    warnings.push(
      `From ${clock(swaying.fromS)} the dog swayed ${times} times as much as in the first repetition; ` +
        `the sign to stop is ${limits.swayRatio} times ${because}.`,
    )
  }
  const shorter = later.find((r) => bestHold(holds, r) < limits.holdRatio * bestHold(holds, first))
  if (shorter) {
    warnings.push(
      `From ${clock(shorter.fromS)} the best hold was ${bestHold(holds, shorter).toFixed(1)} s, less than ` +
        `${limits.holdRatio * 100} % of the first repetition's ${bestHold(holds, first).toFixed(1)} s ${because}.`,
    )
  }
  const last = later.at(-1)
  if (last && first.handsOffS !== null && last.handsOffS !== null) {
    const rise = first.handsOffS / first.holdS - last.handsOffS / last.holdS
    if (rise > SUPPORT_RISE) {
      warnings.push(
        `The dog needed hands on it for ${(rise * 100).toFixed(0)} percentage points more of its hold time in the ` +
          `last repetition than in the first ${because}.`,
      )
    }
  }
  return warnings
}

/** Sway of a repetition over that of another; 0, and so no warning, when either is not known. */
function swayRatio(repetition: RepetitionReport, first: RepetitionReport): number {
  return repetition.swayRms === null || !first.swayRms ? 0 : repetition.swayRms / first.swayRms
}

function bestHold(holds: readonly HoldReport[], repetition: RepetitionReport): number {
  const inside = holds.filter((hold) => hold.fromS < repetition.toS && hold.toS > repetition.fromS)
  return Math.max(0, ...inside.map((hold) => hold.durationS))
}

function minutes(seconds: number): string {
  return `${(seconds / 60).toFixed(1)} min`
}

function clock(seconds: number): string {
  return `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, '0')}`
}
