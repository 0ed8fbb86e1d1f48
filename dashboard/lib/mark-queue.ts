import type { MarkMessage } from '#protocol/messages'
import type { MarkKind } from '#signal/trace/trace'

/**
 * Marks a person made that the server has not confirmed. Each keeps its id, so sending it again
 * after a reconnect cannot make it count twice.
 */
export class MarkQueue {
  #pending: MarkMessage[] = []
  readonly #newId: () => string

  constructor(newId: () => string = newMarkId) {
    this.#newId = newId
  }

  get pending(): readonly MarkMessage[] {
    return this.#pending
  }

  add(kind: MarkKind, atS: number, note?: string): MarkMessage {
    const mark: MarkMessage = {
      type: 'mark',
      id: this.#newId(),
      atS: Math.max(0, atS),
      kind,
      ...(note !== undefined && { note }),
    }
    this.#pending.push(mark)
    return mark
  }

  /** Takes a mark that has its id already; the same id again changes nothing. */
  put(mark: MarkMessage) {
    if (!this.#pending.some(({ id }) => id === mark.id)) this.#pending.push(mark)
  }

  confirm(id: string) {
    this.#pending = this.#pending.filter((mark) => mark.id !== id)
  }
}

/** 16 random bytes as hex; `crypto.randomUUID` is missing on plain-HTTP pages. */
export function newMarkId(): string {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (b) => b.toString(16).padStart(2, '0')).join(
    '',
  )
}
