import type { SessionSummary } from '#protocol/resources'
import { ANALYSIS_VERSION } from '#signal/constants'
import { sessionFigures } from '../analysis/figures.ts'
import { TraceRefusedError } from '../analysis/jobs.ts'
import type { AnalysisPool } from '../analysis/pool.ts'
import { sessionJob } from '../analysis/session-job.ts'
import { COMMAND_LINE } from '../author.ts'
import { ServerError } from '../errors.ts'
import { isDiskFailure } from '../store/disk-failure.ts'
import type { SessionState } from '../store/records.ts'
import type { Store } from '../store/store.ts'
import { CorruptBlockError, SeriesUnavailableError } from '../store/time-series.ts'
import { movedNumbers } from './moved-numbers.ts'
import type { MovedNumber } from './moved-numbers.ts'
import { UpkeepError } from './upkeep-error.ts'

export interface ReanalyseOrder {
  /** Of these dogs alone; of all when empty. */
  readonly dogIds: readonly string[]
  /** These alone; all when empty. */
  readonly sessionIds: readonly string[]
  /** Only those that another version of the analysis measured. */
  readonly stale: boolean
}

/** What became of one session. */
export type Reanalysed =
  | {
      readonly kind: 'done'
      readonly session: SessionSummary
      readonly moved: readonly MovedNumber[]
      /** Numbers compared. */
      readonly count: number
    }
  /** There was nothing to do, and `why`. */
  | { readonly kind: 'left'; readonly session: SessionSummary; readonly why: string }
  /** It could not be done; what was stored of it is still stored. */
  | { readonly kind: 'failed'; readonly session: SessionSummary; readonly why: string }

/**
 * Makes the stored analysis of finished sessions anew, by the way a session takes after a correction: samples, marks,
 * mount, limits of the plan and people's corrections go in as they are stored, and each session is replaced in one
 * transaction. One that cannot be measured keeps what it has.
 * @throws {UpkeepError} for a dog or session there is not, and when going on makes no sense: what was yielded is done
 */
export async function* reanalyse(
  store: Store,
  pool: AnalysisPool,
  order: ReanalyseOrder,
): AsyncGenerator<Reanalysed, void, void> {
  for (const id of await askedFor(store, order)) {
    const session = await store.records.session(id)
    if (!session) continue
    const why = notNow(session, order)
    yield why === null ? await one(store, pool, session) : { kind: 'left', session, why }
  }
}

/** Ids of the sessions that were asked for, the oldest first. */
async function askedFor({ records }: Store, { dogIds, sessionIds }: ReanalyseOrder): Promise<string[]> {
  for (const id of dogIds) {
    if (!(await records.dog(id))) throw new UpkeepError(`there is no dog ${id}; nothing was changed`)
  }
  for (const id of sessionIds) {
    if (!(await records.session(id))) throw new UpkeepError(`there is no session ${id}; nothing was changed`)
  }
  const ids: string[] = []
  for (let cursor: string | null | undefined; cursor !== null;) {
    const page = await records.sessions({ limit: 500, cursor })
    const wanted = page.sessions.filter(
      ({ id, dogId }) =>
        (dogIds.length === 0 || dogIds.includes(dogId)) &&
        (sessionIds.length === 0 || sessionIds.includes(id)),
    )
    ids.push(...wanted.map(({ id }) => id))
    cursor = page.next
  }
  return ids.reverse()
}

const NOT_FINISHED: Readonly<Record<Exclude<SessionState, 'finished' | 'failed'>, string>> = {
  recording: 'it is still open: it is analysed when the recording ends',
  analysing: 'it was never analysed: the next start of the server does that',
}

/** Why a session is left alone; null for one to be done. */
function notNow(
  { state, problem, analysisVersion }: SessionSummary,
  { stale }: ReanalyseOrder,
): string | null {
  if (state === 'failed') return `it has no numbers: ${problem ?? 'its analysis failed'}`
  if (state !== 'finished') return NOT_FINISHED[state]
  if (stale && analysisVersion === ANALYSIS_VERSION) return `it is of analysis ${ANALYSIS_VERSION} already`
  return null
}

async function one(
  { records, series }: Store,
  pool: AnalysisPool,
  session: SessionSummary,
): Promise<Reanalysed> {
  const before = await records.report(session.id)
  try {
    const job = await sessionJob({ records, series }, session.id)
    if (!job) return { kind: 'failed', session, why: 'no samples of it are stored' }
    const { analysis } = await pool.run(job)
    const figures = sessionFigures(analysis.report)
    const { count, moved } = movedNumbers(
      { ...before, summary: figuresOf(session, figures) },
      { ...analysis.report, summary: figuresOf(figures, session) },
    )
    const isSame = moved.length === 0 && session.analysisVersion === analysis.report.version
    // A line in the trail for whom numbers changed under the eyes; none where nothing did.
    await records.saveAnalysis(
      session.id,
      analysis,
      isSame ? undefined : { by: COMMAND_LINE, numbersMoved: moved.length },
    )
    return { kind: 'done', session, moved, count }
  } catch (error) {
    return { kind: 'failed', session, why: reasonOf(error) }
  }
}

/** What a session has of the figures that lists show: those that `others` has as well. */
function figuresOf(of: object, others: object): object {
  return Object.fromEntries(Object.entries(of).filter(([name]) => name in others))
}

/** @throws when it is about more than this session */
function reasonOf(error: unknown): string {
  if (error instanceof SeriesUnavailableError) {
    throw new UpkeepError(
      `${error.message} What was done stays done; run the command again when it answers.`,
      {
        cause: error,
      },
    )
  }
  if (isDiskFailure(error)) {
    throw new UpkeepError(
      `it could not be stored: ${(error as Error).message}. What was done stays done; make room and run the command again.`,
      { cause: error },
    )
  }
  const isItsOwn =
    error instanceof CorruptBlockError || error instanceof TraceRefusedError || error instanceof ServerError
  if (!isItsOwn) throw error
  return error.message
}
