import { TraceRefusedError } from '../analysis/jobs.ts'
import type { AnalysisPool } from '../analysis/pool.ts'
import { readableInput } from '../analysis/readable-input.ts'
import { partsInWords, unreadableParts } from '../analysis/unreadable-parts.ts'
import type { UnreadablePart } from '#protocol/unreadable-part'
import type { SessionArchive } from '../store/archives.ts'
import { isWithin } from '../store/index-ranges.ts'
import type { Store } from '../store/store.ts'
import type { CorruptBlockError, IndexRange } from '../store/time-series.ts'
import type { StreamFile } from './archive-files.ts'
import { jsonText } from './archive-schemas.ts'

/** A file of an archive; its content is made when it is written. */
export interface ArchiveFile {
  readonly path: string
  content(): AsyncIterable<string | Uint8Array>
}

/** A file that cannot be made of this session, or not whole; the archive says why. */
export interface MissingFile {
  readonly path: string
  readonly without: string
}

export interface ExportParts {
  readonly store: Store
  readonly pool: AnalysisPool
}

/**
 * The files of one session, sorted by name, without a heap for all of its samples except for EDF+. Damaged samples
 * are written as lost ones, so that the archive can come back, and named with the reason.
 */
export async function* sessionFiles(
  parts: ExportParts,
  archive: SessionArchive,
): AsyncGenerator<ArchiveFile | MissingFile> {
  const { session, edits, repetitionNotes, analysis } = archive
  const folder = `sessions/${session.id}`
  const damaged = await unreadableParts(parts.store, session.id)
  const ranges = damaged.map(({ firstIndex, endIndex }) => ({ firstIndex, count: endIndex - firstIndex }))
  const stream = archive.stream && {
    ...archive.stream,
    // For whoever brings the archive back there is no difference: these samples are not there.
    lost: [...archive.stream.lost, ...ranges].sort((a, b) => a.firstIndex - b.firstIndex),
  }
  if (stream?.kind === 'live')
    yield { path: `${folder}/arrivals.csv`, content: () => arrivals(parts, stream, ranges) }
  if (analysis) {
    const { timeline, holds } = analysis
    yield textFile(`${folder}/drawing.json`, `${JSON.stringify({ timeline, holds })}\n`)
  }
  yield textFile(`${folder}/edits.json`, jsonText(edits))
  yield textFile(`${folder}/repetition-notes.json`, jsonText(repetitionNotes))
  if (analysis) yield textFile(`${folder}/report.json`, jsonText(analysis.report))
  if (stream) {
    yield { path: `${folder}/samples.csv`, content: () => samples(parts, stream, ranges) }
    if (damaged.length > 0) yield { path: `${folder}/samples.csv`, without: damagedWords(damaged) }
  }
  yield textFile(`${folder}/session.json`, jsonText(session))
  if (!stream) return
  yield textFile(`${folder}/stream.json`, jsonText(stream))
  yield* edfFile(parts, session.id, `${folder}/trace.edf`)
}

function damagedWords(parts: readonly UnreadablePart[]): string {
  return (
    `Not whole: all channels from ${partsInWords(parts)} are left out, since the stored samples are damaged; ` +
    'stream.json counts them as lost.'
  )
}

export function textFile(path: string, text: string): ArchiveFile {
  return {
    path,
    async *content() {
      yield text
    },
  }
}

async function* arrivals(
  { store }: ExportParts,
  { id }: StreamFile,
  damaged: readonly IndexRange[],
): AsyncGenerator<string> {
  // Packets of damaged samples arrived, too, but there is nothing left that they brought.
  const known = (await store.series.arrivals(id)).filter(({ index }) => !isWithin(index, damaged))
  yield 'index,arrivedAtUs\n'
  const PER_CHUNK = 1000
  for (let from = 0; from < known.length; from += PER_CHUNK) {
    const rows = known.slice(from, from + PER_CHUNK)
    yield rows.map(({ index, arrivedAtUs }) => `${index},${arrivedAtUs}\n`).join('')
  }
}

/** Block by block, each turned into text in a worker thread. */
async function* samples(
  { store, pool }: ExportParts,
  { id, columns, nextIndex }: StreamFile,
  damaged: readonly IndexRange[],
): AsyncGenerator<string> {
  yield `index,${columns.join(',')}\n`
  // Damage that was not there when stream.json was written ends the export: the two would contradict each other.
  const leaveOut = (damage: CorruptBlockError) => {
    if (!isWithin(damage.range.firstIndex, damaged)) throw damage
  }
  for await (const block of store.series.readSamples(id, 0, nextIndex, leaveOut)) {
    yield (await pool.run({ kind: 'samples-csv', block })).csv
  }
}

async function* edfFile(
  { store, pool }: ExportParts,
  sessionId: string,
  path: string,
): AsyncGenerator<ArchiveFile | MissingFile> {
  const readable = await readableInput(store, sessionId)
  if (!readable) return yield { path, without: 'there are no samples' }
  const { trace, stampResolutionS, clock } = readable.input
  try {
    const { edf } = await pool.run({ kind: 'edf', trace, stampResolutionS, clock })
    yield {
      path,
      async *content() {
        yield edf
      },
    }
  } catch (error) {
    if (!(error instanceof TraceRefusedError)) throw error
    return yield { path, without: error.message }
  }
  if (readable.parts.length > 0) yield { path, without: damagedWords(readable.parts) }
}
