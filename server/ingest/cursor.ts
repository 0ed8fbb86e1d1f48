/** What to do with samples [firstIndex, firstIndex + count) of a stream. */
export type CursorStep =
  /** New from `skip` samples on; the first `skip` are here already. */
  | { readonly kind: 'take'; readonly skip: number }
  /** All of them are here already. */
  | { readonly kind: 'duplicate' }
  /** Samples from `missingIndex` on must come first. */
  | { readonly kind: 'gap'; readonly missingIndex: number }

/**
 * The place up to which a stream has been received without a hole, and the place up to which that
 * is durable. The first never moves past a gap, the second never past the first.
 */
export class Cursor {
  #nextIndex: number
  #durableIndex: number

  /** @param nextIndex what the store holds already */
  constructor(nextIndex: number) {
    this.#nextIndex = nextIndex
    this.#durableIndex = nextIndex
  }

  /** Index of the first sample not received. */
  get nextIndex(): number {
    return this.#nextIndex
  }

  /** Everything below is stored and may be forgotten by the sender. */
  get durableIndex(): number {
    return this.#durableIndex
  }

  /** Judges a run of samples and, when it is taken, moves past it. */
  take(firstIndex: number, count: number): CursorStep {
    const next = this.#nextIndex
    if (firstIndex > next) return { kind: 'gap', missingIndex: next }
    if (firstIndex + count <= next) return { kind: 'duplicate' }
    this.#nextIndex = firstIndex + count
    return { kind: 'take', skip: next - firstIndex }
  }

  /** Notes that everything below `index` is stored; an older note changes nothing. */
  confirm(index: number): void {
    if (index > this.#nextIndex) {
      throw new RangeError(`confirm requires index <= ${this.#nextIndex} (received), got ${index}`)
    }
    this.#durableIndex = Math.max(this.#durableIndex, index)
  }
}
