import { TraceRefusedError } from '../analysis/jobs.ts'
import type { AnalysisPool } from '../analysis/pool.ts'
import { storedInput } from '../analysis/stored-input.ts'
import type { SessionArchive } from '../store/archives.ts'
import type { Store } from '../store/store.ts'
import type { StreamFile } from './archive-files.ts'
import { jsonText } from './archive-schemas.ts'

/** A file of an archive; its content is made when it is written. */
export interface ArchiveFile {
  readonly path: string
  content(): AsyncIterable<string | Uint8Array>
}

/** A file that cannot be made of this session; the archive says why instead. */
export interface MissingFile {
  readonly path: string
  readonly without: string
}

export interface ExportParts {
  readonly store: Store
  readonly pool: AnalysisPool
}

/** The files of one session, sorted by name, without a heap for all of its samples except for EDF+. */
export async function* sessionFiles(
  parts: ExportParts,
  archive: SessionArchive,
): AsyncGenerator<ArchiveFile | MissingFile> {
  const { session, edits, repetitionNotes, analysis, stream } = archive
  const folder = `sessions/${session.id}`
  if (stream?.kind === 'live')
    yield { path: `${folder}/arrivals.csv`, content: () => arrivals(parts, stream) }
  if (analysis) {
    const { timeline, holds } = analysis
    yield textFile(`${folder}/drawing.json`, `${JSON.stringify({ timeline, holds })}\n`)
  }
  yield textFile(`${folder}/edits.json`, jsonText(edits))
  yield textFile(`${folder}/repetition-notes.json`, jsonText(repetitionNotes))
  if (analysis) yield textFile(`${folder}/report.json`, jsonText(analysis.report))
  if (stream) yield { path: `${folder}/samples.csv`, content: () => samples(parts, stream) }
  yield textFile(`${folder}/session.json`, jsonText(session))
  if (!stream) return
  yield textFile(`${folder}/stream.json`, jsonText(stream))
  yield await edfFile(parts, session.id, `${folder}/trace.edf`)
}

export function textFile(path: string, text: string): ArchiveFile {
  return {
    path,
    async *content() {
      yield text
    },
  }
}

async function* arrivals({ store }: ExportParts, { id }: StreamFile): AsyncGenerator<string> {
  const known = await store.series.arrivals(id)
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
): AsyncGenerator<string> {
  yield `index,${columns.join(',')}\n`
  for await (const block of store.series.readSamples(id, 0, nextIndex)) {
    yield (await pool.run({ kind: 'samples-csv', block })).csv
  }
}

async function edfFile(
  { store, pool }: ExportParts,
  sessionId: string,
  path: string,
): Promise<ArchiveFile | MissingFile> {
  const input = await storedInput(store, sessionId)
  if (!input) return { path, without: 'there are no samples' }
  const { trace, stampResolutionS, clock } = input
  try {
    const { edf } = await pool.run({ kind: 'edf', trace, stampResolutionS, clock })
    return {
      path,
      async *content() {
        yield edf
      },
    }
  } catch (error) {
    if (error instanceof TraceRefusedError) return { path, without: error.message }
    throw error
  }
}
