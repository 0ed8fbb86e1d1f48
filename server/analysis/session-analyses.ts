import type { FastifyBaseLogger } from 'fastify'
import { ServerError } from '../errors.ts'
import { isDiskFailure } from '../store/disk-failure.ts'
import type { Store } from '../store/store.ts'
import { CorruptBlockError, SeriesUnavailableError } from '../store/time-series.ts'
import { PoolClosedError, TraceRefusedError } from './jobs.ts'
import type { AnalysisPool } from './pool.ts'
import { sessionJob } from './session-job.ts'
import { samplesUnreadable, unreadableParts } from './unreadable-parts.ts'
import { tell } from '../log/tell.ts'

/** Analyses stored sessions: after recording, and again after a mark changed. */
export class SessionAnalyses {
  readonly #store: Store
  readonly #pool: AnalysisPool
  readonly #log: FastifyBaseLogger
  readonly #running = new Map<string, Promise<void>>()
  readonly #queued = new Map<string, Promise<void>>()
  readonly #postponed = new Set<string>()

  constructor(store: Store, pool: AnalysisPool, log: FastifyBaseLogger) {
    this.#store = store
    this.#pool = pool
    this.#log = log
  }

  /**
   * Resolves once an analysis that began after this call is stored: the session is then `finished`,
   * or `failed` with its problem, or `analysing` until its samples can be read. Calls during a running analysis share the next one.
   */
  run(sessionId: string): Promise<void> {
    const running = this.#running.get(sessionId)
    if (!running) return this.#start(sessionId)
    let queued = this.#queued.get(sessionId)
    if (!queued) {
      const next = () => {
        this.#queued.delete(sessionId)
        return this.#start(sessionId)
      }
      queued = running.then(next, next)
      this.#queued.set(sessionId, queued)
    }
    return queued
  }

  /** Resolves when nothing is being analysed. */
  async settled(): Promise<void> {
    while (this.#running.size > 0) await Promise.allSettled(this.#running.values())
  }

  /** Samples that were out of reach can be read again: what had to wait for them is analysed. */
  runPostponed(): void {
    const sessionIds = [...this.#postponed]
    this.#postponed.clear()
    for (const sessionId of sessionIds) {
      this.run(sessionId).catch((err: unknown) => {
        tell(this.#log, 'analysis.stays-open', { err, sessionId })
      })
    }
  }

  /** One being recorded is `analysing` until then; whoever changed another one is told that its figures must wait. */
  async #postpone(sessionId: string, error: SeriesUnavailableError): Promise<void> {
    this.#postponed.add(sessionId)
    tell(this.#log, 'analysis.waits', { err: error, sessionId })
    const session = await this.#store.records.session(sessionId)
    if (session && session.state !== 'analysing') throw error
  }

  /** What was measured before the damage stays as it is; one that was never measured fails in words. */
  async #refuse(sessionId: string, error: CorruptBlockError): Promise<void> {
    const { records } = this.#store
    const refusal = samplesUnreadable(sessionId, await unreadableParts(this.#store, sessionId), error)
    const session = await records.session(sessionId)
    if (session && session.state !== 'analysing' && (await records.report(sessionId))) throw refusal
    await records.updateSession(sessionId, { state: 'failed', problem: refusal.message })
  }

  #start(sessionId: string): Promise<void> {
    const running = this.#analyse(sessionId).finally(() => this.#running.delete(sessionId))
    this.#running.set(sessionId, running)
    return running
  }

  async #analyse(sessionId: string): Promise<void> {
    const { records } = this.#store
    try {
      const job = await sessionJob(this.#store, sessionId)
      if (!job) {
        await records.updateSession(sessionId, { state: 'failed', problem: 'No samples arrived.' })
        return
      }
      const { analysis } = await this.#pool.run(job)
      // Deleted meanwhile: there is nothing to keep the result with.
      if (await records.session(sessionId)) await records.saveAnalysis(sessionId, analysis)
    } catch (error) {
      // Left as it is, to be analysed after the next start.
      if (error instanceof PoolClosedError) return
      if (isDiskFailure(error)) throw error
      if (error instanceof SeriesUnavailableError) return this.#postpone(sessionId, error)
      if (error instanceof CorruptBlockError) return this.#refuse(sessionId, error)
      const expected = error instanceof TraceRefusedError || error instanceof ServerError
      if (!expected) tell(this.#log, 'analysis.failed', { err: error, sessionId })
      const problem = expected ? error.message : new ServerError('INTERNAL').message
      await records.updateSession(sessionId, { state: 'failed', problem })
    }
  }
}
