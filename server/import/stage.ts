import { ANALYSIS_VERSION } from '#signal/constants'
import { analysed } from '../analysis/analysed.ts'
import { sessionJob } from '../analysis/session-job.ts'
import { auditPath } from '../export/archive-files.ts'
import type { PlansFile, SessionFile, StreamFile } from '../export/archive-files.ts'
import type { StoredAnalysis } from '../store/archives.ts'
import type { Arrival } from '../store/time-series.ts'
import { openStaging } from '../store/sqlite/staging.ts'
import type { Staging } from '../store/sqlite/staging.ts'
import { ArchiveError, EXPORT_AGAIN } from './archive-error.ts'
import { ArchiveReader, missing } from './archive-reader.ts'
import {
  checkColumns,
  checkDiary,
  checkEditsFile,
  checkNotes,
  checkPlans,
  checkSession,
} from './check-content.ts'
import { invalid, requireSame } from './check-content.ts'
import { checkLost, readArrivals, readSamples } from './read-samples.ts'
import type { ArchiveLimits } from './zip-entries.ts'

export interface Staged {
  readonly dogId: string
  readonly sessions: number
  /** Sessions whose report was made by another version of the analysis, and was made anew. */
  readonly analysedAgain: number
  /** Of the archive, for the line that the import adds to the trail. */
  readonly from: { readonly exportedAt: string; readonly softwareVersion: string }
}

export interface StageOptions {
  readonly zipPath: string
  /** An existing, empty folder. */
  readonly stagingDir: string
  readonly limits: ArchiveLimits
  /** Told whose archive it is as soon as that is known, before the work begins. */
  readonly found: (dogId: string) => void
}

/**
 * Reads an archive into a store of its own in `stagingDir`, complete when this resolves; nothing else is
 * touched.
 * @throws {ArchiveError} for anything that is not as it was exported
 */
export async function stage({ zipPath, stagingDir, limits, found }: StageOptions): Promise<Staged> {
  const archive = await ArchiveReader.open(zipPath, limits)
  try {
    const { dogId, sessions, exportedAt, softwareVersion } = archive.manifest
    found(dogId)
    // All of it first: a file that was changed is told as such, not by what its change broke.
    for (const path of archive.paths) await archive.verify(path)
    checkPaths(archive)
    const staging = await openStaging(stagingDir)
    try {
      const plans = await stageDog(archive, staging)
      let analysedAgain = 0
      for (const sessionId of sessions)
        analysedAgain += await stageSession(archive, staging, plans, sessionId)
      const from = { exportedAt, softwareVersion }
      return { dogId, sessions: sessions.length, analysedAgain, from }
    } catch (error) {
      throw explained(error)
    } finally {
      await staging.close()
    }
  } finally {
    archive.close()
  }
}

/** Rows that the tables refuse, e.g. two of one id: the archive contradicts itself. */
function explained(error: unknown): unknown {
  const { code, message } = error as { code?: unknown; message: string }
  if (typeof code !== 'string' || !code.startsWith('SQLITE_CONSTRAINT')) return error
  return new ArchiveError('ARCHIVE_CONTENT_INVALID', `The archive contradicts itself: ${message}.`, {
    remedy: EXPORT_AGAIN,
  })
}

/** Gives the plans, which sessions refer to. */
async function stageDog(archive: ArchiveReader, staging: Staging): Promise<PlansFile> {
  const { dogId } = archive.manifest
  const dog = await archive.json('dog.json', 'dog.json')
  requireSame(dog.id, dogId, 'dog.json', '/id')
  const plans = await archive.json('plans.json', 'plans.json')
  checkPlans(plans, 'plans.json')
  const diary = await archive.json('diary.json', 'diary.json')
  checkDiary(diary, 'diary.json')
  await staging.writer.addDog({
    dog,
    plans,
    diary,
    trendSettings: await archive.json('trend-settings.json', 'trend-settings.json'),
  })
  // A part at a time: all of them may be more than this thread may hold.
  for (let part = 1; part === 1 || archive.has(auditPath(part)); part++) {
    staging.writer.addAudit(dogId, await archive.json(auditPath(part), 'audit.json'))
  }
  return plans
}

/** Gives how many reports had to be made anew: 0 or 1. */
async function stageSession(
  archive: ArchiveReader,
  staging: Staging,
  plans: PlansFile,
  id: string,
): Promise<0 | 1> {
  const folder = `sessions/${id}`
  const session = await archive.json(`${folder}/session.json`, 'session.json')
  requireSame(session.id, id, `${folder}/session.json`, '/id')
  checkSession(session, plans, `${folder}/session.json`)
  const edits = await archive.json(`${folder}/edits.json`, 'edits.json')
  checkEditsFile(edits, id, `${folder}/edits.json`)
  const repetitionNotes = await archive.json(`${folder}/repetition-notes.json`, 'repetition-notes.json')
  checkNotes(repetitionNotes, `${folder}/repetition-notes.json`)
  const streamPath = `${folder}/stream.json`
  const stream = archive.has(streamPath) ? await archive.json(streamPath, 'stream.json') : null
  if (stream) {
    checkLost(stream, streamPath)
    checkColumns(stream, streamPath)
  }
  await staging.writer.addSession(archive.manifest.dogId, { session, edits, repetitionNotes, stream })
  if (stream) await stageSamples(archive, staging, stream, folder)
  const analysis = await analysisOf(archive, folder)
  if (analysis !== 'outdated') {
    if (analysis) staging.writer.addAnalysis(session, analysis)
    return 0
  }
  await analyseAgain(staging, session)
  return 1
}

async function stageSamples(
  archive: ArchiveReader,
  { writer }: Staging,
  stream: StreamFile,
  folder: string,
): Promise<void> {
  const arrivals =
    stream.kind === 'live'
      ? await readArrivals(archive.bytes(`${folder}/arrivals.csv`), stream, `${folder}/arrivals.csv`)
      : []
  const samplesPath = `${folder}/samples.csv`
  let next = 0
  for await (const block of readSamples(archive.bytes(samplesPath), stream, samplesPath)) {
    const { firstIndex, count } = block
    const own: Arrival[] = []
    while (next < arrivals.length && arrivals[next].index < firstIndex + count) own.push(arrivals[next++])
    if (own.length > 0 && own[0].index < firstIndex) break
    writer.addBlock(stream.id, firstIndex, block, own)
  }
  if (next < arrivals.length) {
    throw new ArchiveError('ARCHIVE_SAMPLES_INVALID', `${folder}/arrivals.csv names a lost sample.`, {
      file: `${folder}/arrivals.csv`,
      remedy: EXPORT_AGAIN,
    })
  }
}

/** As it was stored; `outdated` when another version of the analysis made it. */
async function analysisOf(
  archive: ArchiveReader,
  folder: string,
): Promise<StoredAnalysis | 'outdated' | null> {
  const path = `${folder}/report.json`
  if (!archive.has(path)) return null
  const { version } = ((await archive.anyJson(path)) ?? {}) as { version?: unknown }
  if (version !== ANALYSIS_VERSION) return 'outdated'
  const report = await archive.json(path, 'report.json')
  const { startedAt } = report.trace
  if (startedAt !== null && !Number.isFinite(Date.parse(startedAt))) {
    throw invalid(path, '/trace/startedAt', `${startedAt} is no time.`)
  }
  const { timeline, holds } = await archive.json(`${folder}/drawing.json`, 'drawing.json')
  if (holds.length !== report.holds.length) {
    throw new ArchiveError(
      'ARCHIVE_CONTENT_INVALID',
      `${folder}/drawing.json draws ${holds.length} holds, ${path} has ${report.holds.length}.`,
      { file: `${folder}/drawing.json`, remedy: EXPORT_AGAIN },
    )
  }
  return { report, timeline, holds }
}

async function analyseAgain({ store }: Staging, session: SessionFile): Promise<void> {
  const job = await sessionJob(store, session.id)
  if (!job) return
  try {
    await store.records.saveAnalysis(session.id, analysed(job))
  } catch (error) {
    // Too short or too slow to be measured, as when it was recorded.
    if (!(error instanceof RangeError)) throw error
    await store.records.updateSession(session.id, { state: 'failed', problem: error.message })
  }
}

/** Everything listed is something we know what to do with: nothing comes in unread. */
function checkPaths(archive: ArchiveReader): void {
  const { manifest, paths } = archive
  const sessions = new Set(manifest.sessions)
  const known =
    /^(README\.txt|sessions\.csv|(dog|plans|diary|trend-settings|audit(-([2-9]|[1-9]\d{1,5}))?)\.json|schema\/[a-z-]+\.schema\.json)$/
  const ofSession =
    /^sessions\/([A-Za-z0-9_-]+)\/((session|edits|repetition-notes|report|drawing|stream)\.json|(samples|arrivals)\.csv|trace\.edf)$/
  for (const path of paths) {
    const session = ofSession.exec(path)?.[1]
    // The parts of the audit follow each other: none may lie beyond a gap, where nobody would read it.
    const part = Number(/^audit-(\d+)\.json$/.exec(path)?.[1] ?? 1)
    if (part > 1 && !archive.has(auditPath(part - 1))) throw missing(auditPath(part - 1))
    if (session === undefined ? known.test(path) : sessions.has(session)) continue
    throw new ArchiveError('ARCHIVE_FILE_UNKNOWN', `${path} is no file of an archive of this format.`, {
      file: path,
      remedy: EXPORT_AGAIN,
    })
  }
}
