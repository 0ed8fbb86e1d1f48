import type { StopLimits } from '../live/stop-limits.ts'
import type { HoldReport, RepetitionReport } from '../report-types.ts'

/** Sentences naming each limit that was passed and when; empty when none was. A limit that is null is left out. */
export function planWarnings(
  durationS: number,
  holds: readonly HoldReport[],
  repetitions: readonly RepetitionReport[],
  limits: StopLimits,
): string[] {
  const warnings: string[] = []
  const because = `(${limits.basis})`
  const { sessionCapS, maxRepetitions, holdRatio, supportRise } = limits
  if (sessionCapS !== null && durationS > sessionCapS) {
    warnings.push(`The recording lasted ${clock(durationS)}, the limit is ${clock(sessionCapS)} ${because}.`)
  }
  const done = repetitions.filter((repetition) => repetition.holdS > 0)
  if (maxRepetitions !== null && done.length > maxRepetitions) {
    warnings.push(`${counted(done.length, 'repetition')}, the limit is ${maxRepetitions} ${because}.`)
  }
  const [first, ...later] = done
  if (!first) return warnings
  const swaying = later.find((r) => limits.swayRatio !== null && swayRatio(r, first) > limits.swayRatio)
  if (swaying) {
    const times = swayRatio(swaying, first).toFixed(1)
    warnings.push(
      `From ${clock(swaying.fromS)} the dog swayed ${times} times as much as in the first repetition; ` +
        `the sign to stop is ${limits.swayRatio} times ${because}.`,
    )
  }
  const shorter = later.find((r) => bestHold(holds, r) < (holdRatio ?? 0) * bestHold(holds, first))
  if (shorter) {
    warnings.push(
      `From ${clock(shorter.fromS)} the best hold was ${bestHold(holds, shorter).toFixed(1)} s, less than ` +
        `${percent(holdRatio!)} of the first repetition's ${bestHold(holds, first).toFixed(1)} s ${because}.`,
    )
  }
  const last = later.at(-1)
  if (supportRise !== null && last && first.handsOffS !== null && last.handsOffS !== null) {
    const rise = first.handsOffS / first.holdS - last.handsOffS / last.holdS
    if (rise > supportRise) {
      warnings.push(
        `The dog needed hands on it for ${(rise * 100).toFixed(0)} percentage points more of its hold time in the ` +
          `last repetition than in the first; the sign to stop is ${(supportRise * 100).toFixed(0)} ${because}.`,
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

function percent(share: number): string {
  return `${Number((share * 100).toFixed(1))} %`
}

function counted(count: number, what: string): string {
  return `${count} ${what}${count === 1 ? '' : 's'}`
}

function clock(seconds: number): string {
  return `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, '0')}`
}
