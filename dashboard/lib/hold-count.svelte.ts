import { onItsOwnS } from './hands-off-clock'
import { holdTargetOf } from './hold-target'
import type { LiveSession } from './live-session.svelte'

/** How long the current hold has lasted, whose work it was, and what it is measured against. */
export class HoldCount {
  readonly #session: LiveSession
  /** As typed by a person; used only where no plan says the target. */
  typedTarget = $state<number | null>(null)

  /** The plan's target, s; null without one, and during the quiet stand, which is no exercise. */
  readonly targetS: number | null = $derived.by(() => {
    const { quietStand, planned } = this.#session
    if (quietStand) return null
    return planned ? planned.holdTargetS : holdTargetOf(this.typedTarget)
  })

  /** Seconds of this hold on the dog's own feet; null when nobody marks hands. */
  readonly ownS: number | null = $derived.by(() => {
    const { state, window, allMarks, handsOn } = this.#session
    if (state === 'steady' && window) return onItsOwnS(allMarks, window.holdS, window.endS)
    return handsOn === null || state === 'no signal' ? null : 0
  })

  /** Seconds that count towards the target: those on its own where hands are marked. */
  readonly countedS: number = $derived.by(
    () => this.ownS ?? (this.#session.state === 'steady' ? (this.#session.window?.holdS ?? 0) : 0),
  )

  readonly reached: boolean = $derived(this.targetS !== null && this.countedS >= this.targetS)

  constructor(session: LiveSession) {
    this.#session = session
  }
}
