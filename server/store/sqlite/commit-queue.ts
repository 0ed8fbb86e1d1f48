import type { Database as SqliteDatabase, Statement } from 'better-sqlite3'

interface Pending {
  readonly run: () => unknown
  readonly resolve: (value: never) => void
  readonly reject: (error: unknown) => void
}

/**
 * Runs writes of all streams in one transaction per interval, so that the cost of flushing to the
 * disk does not grow with the number of streams. A promise resolves after its commit.
 */
export class CommitQueue {
  readonly #raw: SqliteDatabase
  readonly #intervalMs: number
  readonly #savepoint: Statement
  readonly #release: Statement
  readonly #rollback: Statement
  #pending: Pending[] = []
  #timer: NodeJS.Timeout | null = null

  constructor(raw: SqliteDatabase, intervalMs: number) {
    this.#raw = raw
    this.#intervalMs = intervalMs
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
    let settle: (() => void)[] = []
    try {
      this.#raw.transaction(() => {
        for (const write of batch) settle.push(this.#attempt(write))
      })()
    } catch (error) {
      settle = batch.map(
        ({ reject }) =>
          () =>
            reject(error),
      )
    }
    for (const tell of settle) tell()
  }

  /** One write in its own savepoint: a refused one does not take the others with it. */
  #attempt({ run, resolve, reject }: Pending): () => void {
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

function isDiskFailure(error: unknown): boolean {
  const code = (error as { code?: unknown }).code
  return typeof code === 'string' && /^SQLITE_(FULL|IOERR|CORRUPT|NOMEM|READONLY|CANTOPEN)/.test(code)
}
