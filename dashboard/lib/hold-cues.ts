import type { LiveState } from '#signal/live/live-types'

export type HoldCue = 'second' | 'target' | 'break' | 'no signal'

export interface CueInput {
  state: LiveState
  /** Seconds the current hold has lasted, 0 when there is none. */
  holdS: number
  /** Seconds of it that count towards the target: those on its own where hands are marked. */
  countedS: number
}

/** How often the "no signal" sound repeats while nothing arrives, ms: silence must never mean fine. */
export const NO_SIGNAL_EVERY_MS = 5000

/**
 * Which sounds are due between one window and the next. A tick per full second held, the target
 * once per hold (never without a target), a low note when a hold of at least 1 s breaks, and the
 * warning at once and then every 5 s while there is no signal.
 */
export class HoldCues {
  #before: CueInput = { state: 'waiting', holdS: 0, countedS: 0 }
  #reached = false
  #warnedAtMs = -Infinity

  next(now: CueInput, targetS: number | null, nowMs: number): HoldCue[] {
    const before = this.#before
    this.#before = now
    if (now.state === 'no signal') {
      if (before.state === 'no signal' && nowMs - this.#warnedAtMs < NO_SIGNAL_EVERY_MS) return []
      this.#warnedAtMs = nowMs
      return ['no signal']
    }
    // A hold that begins again at a smaller time is another hold.
    const sameHold = now.holdS >= before.holdS && before.holdS > 0
    if (!sameHold) this.#reached = false
    const beforeS = sameHold ? before.holdS : 0
    const cues: HoldCue[] = []
    if (before.holdS >= 1 && !sameHold) cues.push('break')
    if (now.holdS > 0) {
      const countedBeforeS = sameHold ? before.countedS : 0
      if (targetS !== null && !this.#reached && countedBeforeS < targetS && now.countedS >= targetS) {
        this.#reached = true
        cues.push('target')
      } else if (Math.floor(now.holdS) > Math.floor(beforeS)) cues.push('second')
    }
    return cues
  }
}
