/** Things that are held by somebody, each at most once, and at most so many by each. */
export class SharedOut<Thing> {
  readonly #most: number
  readonly #heldBy = new Map<string, Set<Thing>>()

  constructor(most: number) {
    this.#most = most
  }

  /** False when `who` holds as many as anybody may. */
  take(who: string, thing: Thing): boolean {
    const held = this.#heldBy.get(who) ?? new Set()
    if (held.size >= this.#most && !held.has(thing)) return false
    this.#heldBy.set(who, held.add(thing))
    return true
  }

  giveBack(who: string, thing: Thing): void {
    const held = this.#heldBy.get(who)
    held?.delete(thing)
    if (held?.size === 0) this.#heldBy.delete(who)
  }
}
