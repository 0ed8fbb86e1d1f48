import type { SessionSummary } from '#protocol/resources'
import type { DogArchive } from '../store/archives.ts'
import { allSessions } from './all-sessions.ts'
import type { ManifestFile } from './archive-files.ts'
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
  yield textFile('audit.json', jsonText(audit))
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
