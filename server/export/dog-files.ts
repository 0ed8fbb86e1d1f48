import type { SessionSummary } from '#protocol/resources'
import type { DogArchive } from '../store/archives.ts'
import { allSessions } from './all-sessions.ts'
import { auditPath } from './archive-files.ts'
import type { AuditFile, ManifestFile } from './archive-files.ts'
import { ARCHIVE_README } from './archive-readme.ts'
import { jsonText, schemaFiles } from './archive-schemas.ts'
import { holdsByPerson } from './holds-by-person.ts'
import type { HoldsByPerson } from './holds-by-person.ts'
import { sessionFiles, textFile } from './session-files.ts'
import type { ArchiveFile, ExportParts } from './session-files.ts'
import { sessionsCsv } from './sessions-csv.ts'

/** What the archive turned out to be, filled in while its files are made. */
export type ArchiveContents = Pick<ManifestFile, 'sessions' | 'leftOut' | 'without'>

/**
 * Every file of the archive but the manifest, sorted by name within each folder; `contents` is told what is
 * in it. A session that is being recorded, or was not analysed yet, is left out: half a recording could not
 * come back as what it is. Each session is read at one moment, the whole archive is not.
 */
export async function* dogFiles(
  parts: ExportParts,
  archive: DogArchive,
  contents: ArchiveContents,
): AsyncGenerator<ArchiveFile> {
  const { dog, plans, diary, trendSettings, audit } = archive
  yield textFile('README.txt', ARCHIVE_README)
  yield* auditFiles(audit)
  yield textFile('diary.json', jsonText(diary))
  yield textFile('dog.json', jsonText(dog))
  yield textFile('plans.json', jsonText(plans))
  for (const { path, text } of schemaFiles()) yield textFile(path, text)
  const corrected = new Map<string, HoldsByPerson | null>()
  for (const { id } of archive.sessions) yield* sessionOrReason(parts, id, contents, corrected)
  const rows = (await allSessions(parts.store.records, dog.id)).flatMap((summary) => {
    const byPerson = corrected.get(summary.id)
    return byPerson === undefined ? [] : { ...summary, byPerson }
  })
  yield textFile('sessions.csv', sessionsCsv(rows))
  yield textFile('trend-settings.json', jsonText(trendSettings))
}

/** Of JSON without indentation; a part ends when it has reached this. */
const AUDIT_PART_CHARS = 4 * 1024 ** 2

/**
 * audit.json, and audit-2.json … when one is not enough: corrections keep what was there before, so that the trail
 * of years has no bound, and every JSON file is parsed whole when it comes back. A single row is far smaller than
 * what import reads at most (import/archive-reader.ts).
 */
function* auditFiles(audit: AuditFile): Generator<ArchiveFile> {
  let part: AuditFile = []
  let chars = 0
  let number = 1
  const full = () => textFile(auditPath(number++), jsonText(part))
  for (const row of audit) {
    const size = JSON.stringify(row).length
    if (part.length > 0 && chars + size > AUDIT_PART_CHARS) {
      yield full()
      part = []
      chars = 0
    }
    part.push(row)
    chars += size
  }
  yield full()
}

async function* sessionOrReason(
  parts: ExportParts,
  sessionId: string,
  contents: ArchiveContents,
  corrected: Map<string, HoldsByPerson | null>,
): AsyncGenerator<ArchiveFile> {
  const session = await parts.store.archives.session(sessionId)
  if (!session) {
    const known = await parts.store.records.session(sessionId)
    // Deleted since the export began: then it is not spoken of.
    if (known) contents.leftOut.push({ sessionId, reason: reasonOf(known) })
    return
  }
  contents.sessions.push(sessionId)
  corrected.set(sessionId, holdsByPerson(session.analysis))
  for await (const file of sessionFiles(parts, session)) {
    if ('without' in file) contents.without.push({ path: file.path, reason: file.without })
    else yield file
  }
}

function reasonOf({ state }: SessionSummary): string {
  return state === 'recording'
    ? 'It was being recorded. Finish it and export again.'
    : 'It was being analysed. Export again in a moment.'
}
