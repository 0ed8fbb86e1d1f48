import type { LiveState } from '#signal/live/live-types'

export type HoldCue = 'second' | 'target' | 'break' | 'no signal'

export interface CueInput {
  state: LiveState
  /** Seconds the current hold has lasted, 0 when there is none. */
  holdS: number
}

/** How often the "no signal" sound repeats while nothing arrives, ms: silence must never mean fine. */
export const NO_SIGNAL_EVERY_MS = 5000

/**
 * Which sounds are due between one window and the next. A tick per full second held, the target
 * once per hold, a low note when a hold of at least 1 s breaks, and the warning at once and then
 * every 5 s while there is no signal.
 */
export class HoldCues {
  #before: CueInput = { state: 'waiting', holdS: 0 }
  #warnedAtMs = -Infinity

  next(now: CueInput, targetS: number, nowMs: number): HoldCue[] {
    const before = this.#before
    this.#before = now
    if (now.state === 'no signal') {
      if (before.state === 'no signal' && nowMs - this.#warnedAtMs < NO_SIGNAL_EVERY_MS) return []
      this.#warnedAtMs = nowMs
      return ['no signal']
    }
    // A hold that begins again at a smaller time is another hold.
    const sameHold = now.holdS >= before.holdS && before.holdS > 0
    const beforeS = sameHold ? before.holdS : 0
    const cues: HoldCue[] = []
    if (before.holdS >= 1 && !sameHold) cues.push('break')
    if (now.holdS > 0) {
      const reached = targetS > 0 && beforeS < targetS && now.holdS >= targetS
      if (reached) cues.push('target')
      else if (Math.floor(now.holdS) > Math.floor(beforeS)) cues.push('second')
    }
    return cues
  }
}
