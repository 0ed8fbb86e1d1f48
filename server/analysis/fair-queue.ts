/** Waits in line per person, served in turn: who sends a hundred files waits for them, not everybody else. */
export class FairQueue<Item> {
  /** In the order of who is next. */
  readonly #lines = new Map<string, Item[]>()
  #size = 0

  get size(): number {
    return this.#size
  }

  sizeOf(who: string): number {
    return this.#lines.get(who)?.length ?? 0
  }

  add(who: string, item: Item): void {
    const line = this.#lines.get(who)
    if (line) line.push(item)
    else this.#lines.set(who, [item])
    this.#size++
  }

  /** The first item of whoever is next among those whose first item may go; they are last from then on. */
  next(may: (item: Item, who: string) => boolean): Item | null {
    for (const [who, line] of this.#lines) {
      if (!may(line[0], who)) continue
      const item = line.shift()!
      this.#size--
      this.#lines.delete(who)
      if (line.length > 0) this.#lines.set(who, line)
      return item
    }
    return null
  }

  /** Everything that waits; nothing waits afterwards. */
  drain(): Item[] {
    const items = [...this.#lines.values()].flat()
    this.#lines.clear()
    this.#size = 0
    return items
  }
}
