import { HoldDetector } from '../hold/detector.ts'
import { MotionTicks } from '../hold/motion-ticks.ts'
import type { MountShift } from '../hold/mount-shift.ts'
import type { Reference } from '../hold/reference.ts'
import type { HoldSettings } from '../hold/settings.ts'
import type { LiveHold } from '../live/live-types.ts'
import type { HoldEnd } from '../report-types.ts'
import type { UniformTrace } from '../trace/trace.ts'

export interface FoundHold {
  readonly fromS: number
  readonly toS: number
  readonly endedBy: HoldEnd
}

/** The running sums of a whole recording, as a live stream would have built them. */
export function ticksOf(uniform: UniformTrace): MotionTicks {
  const ticks = new MotionTicks(uniform.rateHz)
  for (const { startS, acc } of uniform.stretches) ticks.pushSeries(startS, acc)
  ticks.closeUntil(endOf(uniform))
  return ticks
}

/** End of the last sample's period, s. */
export function endOf(uniform: UniformTrace): number {
  const last = uniform.stretches.at(-1)
  return last ? last.startS + last.acc.x.length / uniform.rateHz : 0
}

/** All holds of a recording, found by the live detector run from start to end. */
export function findHolds(
  ticks: MotionTicks,
  reference: Reference,
  endS: number,
  settings?: HoldSettings,
  shift: MountShift | null = null,
): FoundHold[] {
  const holds = new Map<number, LiveHold>()
  const detector = new HoldDetector(ticks, reference, (hold) => holds.set(hold.id, hold), settings, shift)
  detector.finish(endS)
  return [...holds.values()].map(({ fromS, toS, endedBy }) => ({ fromS, toS: toS!, endedBy: endedBy! }))
}
