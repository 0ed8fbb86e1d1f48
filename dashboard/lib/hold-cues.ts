import type { LiveState } from '#signal/live/live-types'

export type HoldCue = 'second' | 'target' | 'break' | 'stop' | 'no signal'

export interface CueInput {
  state: LiveState
  /** Seconds the current hold has lasted, 0 when there is none. */
  holdS: number
  /** Seconds of it that count towards the target: those on its own where hands are marked. */
  countedS: number
  /** Stop cues that nobody has acknowledged on this screen. */
  openStops: number
}

/** How often the "no signal" sound repeats while nothing arrives, ms: silence must never mean fine. */
export const NO_SIGNAL_EVERY_MS = 5000
/** The stop sound comes this often, ms, and this many times unless somebody acknowledges it. */
export const STOP_EVERY_MS = 6000
export const STOP_TIMES = 4

/**
 * Which sounds are due between one window and the next. A tick per full second held, the target
 * once per hold (never without a target), a low note when a hold of at least 1 s breaks, the
 * warning at once and then every 5 s while there is no signal. A stop sounds at once and alone, and
 * again until it is acknowledged or has sounded four times.
 */
export class HoldCues {
  #before: CueInput = { state: 'waiting', holdS: 0, countedS: 0, openStops: 0 }
  #reached = false
  #warnedAtMs = -Infinity
  #stopAtMs = -Infinity
  #stopsSounded = 0

  next(now: CueInput, targetS: number | null, nowMs: number): HoldCue[] {
    const stop = this.#stopDue(now.openStops, nowMs)
    const others = this.#holdCues(now, targetS)
    this.#before = now
    if (stop) return ['stop']
    if (now.state !== 'no signal') {
      this.#warnedAtMs = -Infinity
      return others
    }
    if (nowMs - this.#warnedAtMs < NO_SIGNAL_EVERY_MS) return []
    this.#warnedAtMs = nowMs
    return ['no signal']
  }

  #stopDue(openStops: number, nowMs: number): boolean {
    if (openStops > this.#before.openStops) this.#stopsSounded = 0
    else if (openStops === 0 || this.#stopsSounded >= STOP_TIMES) return false
    else if (nowMs - this.#stopAtMs < STOP_EVERY_MS) return false
    this.#stopAtMs = nowMs
    this.#stopsSounded++
    return true
  }

  #holdCues(now: CueInput, targetS: number | null): HoldCue[] {
    if (now.state === 'no signal') return []
    const before = this.#before
    // A hold that begins again at a smaller time is another hold.
    const sameHold = now.holdS >= before.holdS && before.holdS > 0
    if (!sameHold) this.#reached = false
    const cues: HoldCue[] = []
    if (before.holdS >= 1 && !sameHold) cues.push('break')
    if (now.holdS > 0) {
      const countedBeforeS = sameHold ? before.countedS : 0
      if (targetS !== null && !this.#reached && countedBeforeS < targetS && now.countedS >= targetS) {
        this.#reached = true
        cues.push('target')
      } else if (Math.floor(now.holdS) > Math.floor(sameHold ? before.holdS : 0)) cues.push('second')
    }
    return cues
  }
}
