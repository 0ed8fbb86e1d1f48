import type { Database as SqliteDatabase, Statement } from 'better-sqlite3'
import { isDiskFailure } from '../disk-failure.ts'

interface Pending {
  readonly run: () => unknown
  readonly resolve: (value: never) => void
  readonly reject: (error: unknown) => void
}

/**
 * Runs writes of all streams in one transaction per interval, so that the cost of flushing to the
 * disk does not grow with the number of streams. A promise resolves after its commit.
 *
 * A write may run twice: all of a batch run plainly first, and when one fails halfway, all of it is
 * undone and run again with a savepoint around each, so that the others do not fail with it.
 */
export class CommitQueue {
  readonly #raw: SqliteDatabase
  readonly #intervalMs: number
  readonly #isRefusal: (error: unknown) => boolean
  readonly #savepoint: Statement
  readonly #release: Statement
  readonly #rollback: Statement
  #pending: Pending[] = []
  #timer: NodeJS.Timeout | null = null

  /** @param isRefusal tells the errors that writes throw before they change anything */
  constructor(raw: SqliteDatabase, intervalMs: number, isRefusal: (error: unknown) => boolean) {
    this.#raw = raw
    this.#intervalMs = intervalMs
    this.#isRefusal = isRefusal
    this.#savepoint = raw.prepare('savepoint one_write')
    this.#release = raw.prepare('release one_write')
    this.#rollback = raw.prepare('rollback to one_write')
  }

  add<T>(run: () => T): Promise<T> {
    return new Promise<T>((resolve, reject) => {
      this.#pending.push({ run, resolve, reject })
      this.#timer ??= setTimeout(() => this.flush(), this.#intervalMs)
    })
  }

  /** Commits what is waiting now. */
  flush(): void {
    if (this.#timer) clearTimeout(this.#timer)
    this.#timer = null
    const batch = this.#pending
    this.#pending = []
    if (batch.length === 0) return
    for (const tell of this.#commit(batch)) tell()
  }

  /** Gives what to tell each write once the transaction is through. */
  #commit(batch: readonly Pending[]): (() => void)[] {
    try {
      return this.#together(batch, (write) => this.#attempt(write))
    } catch (error) {
      if (isDiskFailure(error)) return batch.map((write) => () => write.reject(error))
    }
    try {
      return this.#together(batch, (write) => this.#attemptAlone(write))
    } catch (error) {
      return batch.map((write) => () => write.reject(error))
    }
  }

  #together(batch: readonly Pending[], attempt: (write: Pending) => () => void): (() => void)[] {
    // At once for writing: one that only reads first could not go on when the other connection has written.
    return this.#raw.transaction(() => batch.map(attempt)).immediate()
  }

  #attempt({ run, resolve, reject }: Pending): () => void {
    try {
      const result = run()
      return () => resolve(result as never)
    } catch (error) {
      if (!this.#isRefusal(error)) throw error
      return () => reject(error)
    }
  }

  #attemptAlone({ run, resolve, reject }: Pending): () => void {
    try {
      this.#savepoint.run()
      const result = run()
      this.#release.run()
      return () => resolve(result as never)
    } catch (error) {
      // A full or failing disk ends the whole transaction: nothing of it is stored.
      if (!this.#raw.inTransaction || isDiskFailure(error)) throw error
      this.#rollback.run()
      this.#release.run()
      return () => reject(error)
    }
  }
}
