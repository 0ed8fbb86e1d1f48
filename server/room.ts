/** A bounded amount of something (bytes in memory, places in a line) of which each may have a bounded share. */
export class Room {
  readonly #total: number
  readonly #each: number
  readonly #usedBy = new Map<string, number>()
  #used = 0

  constructor(total: number, each: number) {
    this.#total = total
    this.#each = each
  }

  /** Gives the amount back when called; null when there is no room for it. */
  take(who: string, amount: number): (() => void) | null {
    const own = this.#usedBy.get(who) ?? 0
    if (this.#used + amount > this.#total || own + amount > this.#each) return null
    this.#used += amount
    this.#usedBy.set(who, own + amount)
    let given = false
    return () => {
      if (given) return
      given = true
      this.#used -= amount
      const left = this.#usedBy.get(who)! - amount
      if (left > 0) this.#usedBy.set(who, left)
      else this.#usedBy.delete(who)
    }
  }
}
