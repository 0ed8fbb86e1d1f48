import type { FastifyBaseLogger } from 'fastify'
import type { SessionAnalyses } from '../analysis/session-analyses.ts'
import type { Hub } from '../live/hub.ts'
import type { Author } from '../store/changes.ts'
import type { Store } from '../store/store.ts'
import { tell } from '../log/tell.ts'

export interface EndingParts {
  readonly store: Store
  readonly hub: Hub
  readonly analyses: SessionAnalyses
  readonly log: FastifyBaseLogger
}

interface Ending {
  readonly before?: () => Promise<void>
  readonly by?: Author
}

/** Sessions on their way from recorded to analysed. */
export class Endings {
  readonly #parts: EndingParts
  readonly #endings = new Map<string, Promise<void>>()

  constructor(parts: EndingParts) {
    this.#parts = parts
  }

  /** Resolves when the session is through, if it is ending. */
  get(sessionId: string): Promise<void> | undefined {
    return this.#endings.get(sessionId)
  }

  /**
   * Analyses what was recorded, after `before`, and tells the viewers; a sender that returns waits
   * for it. `by` is the person who ended it.
   */
  end(sessionId: string, { before = async () => {}, by }: Ending = {}): Promise<void> {
    const { store, analyses, hub } = this.#parts
    const ending = before()
      .then(() =>
        by === undefined
          ? store.records.updateSession(sessionId, { state: 'analysing' })
          : store.records.endSession(sessionId, { state: 'analysing' }, by),
      )
      .then(() => this.#compact(sessionId))
      .then(() => analyses.run(sessionId))
      .finally(() => {
        this.#endings.delete(sessionId)
        hub.end(sessionId)
      })
    this.#endings.set(sessionId, ending)
    return ending
  }

  /**
   * The same where nobody waits for it: a failure is logged, and the session is analysed when its
   * sender comes back or after the next start. One that is ending already is left to it.
   */
  endUnasked(sessionId: string): void {
    if (this.#endings.has(sessionId)) return
    this.end(sessionId).catch((err: unknown) => {
      tell(this.#parts.log, 'recording.not-analysed', { err, sessionId })
    })
  }

  /** Resolves when all that are ending now are through, whatever became of them. */
  async settled(): Promise<void> {
    await Promise.allSettled(this.#endings.values())
  }

  /** Packets become long blocks. A disk that has no room for it leaves the session as readable as it was. */
  async #compact(sessionId: string): Promise<void> {
    const { store, log } = this.#parts
    const stream = await store.series.streamOfSession(sessionId)
    if (!stream) return
    await store.series.compact(stream.id).catch((err: unknown) => {
      tell(log, 'stream.not-compacted', { err, sessionId })
    })
  }
}
