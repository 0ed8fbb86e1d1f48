import type { Database as SqliteDatabase } from 'better-sqlite3'
import { decodeBlock } from '../store/sqlite/block-codec.ts'
import type { SampleBlocksTable } from '../store/sqlite/schema.ts'
import { CorruptBlockError } from '../store/time-series.ts'
import type { DamagedSamples, Finding } from './finding.ts'

interface StreamRow {
  readonly id: string
  readonly session_id: string
  readonly columns: string
  readonly rate_hz: number
  readonly started_at_us: number | null
  readonly next_index: number
  readonly dog_id: string | null
  readonly dog_name: string | null
}

interface Piece {
  readonly firstIndex: number
  readonly count: number
  readonly what: 'block' | 'lost range'
}

export interface SampleCounts {
  streams: number
  blocks: number
  samples: number
  lost: number
  /** Those of the samples that InfluxDB holds: only that they are accounted for is checked. */
  inInflux: number
}

/**
 * Reads every block of every stream: its bytes must be those that were stored, and blocks and lost ranges together
 * must cover the stream from 0 to its next index, each index once.
 */
export function checkSamples(raw: SqliteDatabase): { findings: Finding[]; counts: SampleCounts } {
  const findings: Finding[] = []
  const counts: SampleCounts = { streams: 0, blocks: 0, samples: 0, lost: 0, inInflux: 0 }
  const streams = raw
    .prepare<[], StreamRow>(
      `select st.id, st.session_id, st.columns, st.rate_hz, st.started_at_us, st.next_index,
              d.id as dog_id, d.name as dog_name
       from streams st left join sessions s on s.id = st.session_id left join dogs d on d.id = s.dog_id
       order by st.id`,
    )
    .all()
  for (const stream of streams) {
    counts.streams++
    try {
      const pieces = [...blocksOf(raw, stream, findings, counts), ...lostRangesOf(raw, stream.id)]
      for (const { what, count } of pieces) {
        if (what === 'block') counts.blocks++
        counts[what === 'block' ? 'samples' : 'lost'] += count
      }
      findings.push(...gapsAndOverlaps(stream, pieces))
    } catch (error) {
      // A damaged page of the database: the other streams are still worth looking at.
      const text = `stream ${stream.id} of ${owner(stream)} cannot be read: ${(error as Error).message}`
      findings.push({ kind: 'database', text })
    }
  }
  return { findings, counts }
}

function blocksOf(
  raw: SqliteDatabase,
  stream: StreamRow,
  findings: Finding[],
  counts: SampleCounts,
): Piece[] {
  const columnCount = stream.columns.split(',').length
  const pieces: Piece[] = []
  const read = raw.prepare<[string], SampleBlocksTable>(
    'select * from sample_blocks where stream_id = ? order by first_index',
  )
  for (const row of read.iterate(stream.id)) {
    const firstIndex = row.first_index
    pieces.push({ firstIndex, count: row.count, what: 'block' })
    if (row.encoding === 'influx') {
      counts.inInflux += row.count
      continue
    }
    try {
      decodeBlock({ ...row, firstIndex }, columnCount, stream.id)
    } catch (error) {
      if (!(error instanceof CorruptBlockError)) throw error
      const samples = place(stream, firstIndex, firstIndex + row.count)
      findings.push({ kind: 'block', text: `damaged block: ${placeWords(samples)}`, samples })
    }
  }
  return pieces
}

function lostRangesOf(raw: SqliteDatabase, streamId: string): Piece[] {
  return raw
    .prepare<[string], { first_index: number; count: number }>(
      'select first_index, count from lost_ranges where stream_id = ?',
    )
    .all(streamId)
    .map(({ first_index, count }) => ({ firstIndex: first_index, count, what: 'lost range' }))
}

function gapsAndOverlaps(stream: StreamRow, pieces: readonly Piece[]): Finding[] {
  const findings: Finding[] = []
  const report = (words: string, from: number, to: number) => {
    const samples = place(stream, Math.min(from, to), Math.max(from, to))
    findings.push({ kind: 'stream', text: `${words}: ${placeWords(samples)}`, samples })
  }
  let next = 0
  for (const { firstIndex, count, what } of [...pieces].sort((a, b) => a.firstIndex - b.firstIndex)) {
    if (firstIndex > next) report('neither stored nor declared lost', next, firstIndex)
    if (firstIndex < next)
      report(`stored twice (a ${what} overlaps)`, firstIndex, Math.min(next, firstIndex + count))
    next = Math.max(next, firstIndex + count)
  }
  if (next < stream.next_index) report('acknowledged and missing', next, stream.next_index)
  if (next > stream.next_index) report('stored beyond the acknowledged end', stream.next_index, next)
  return findings
}

function place(stream: StreamRow, firstIndex: number, endIndex: number): DamagedSamples {
  const at = (index: number) =>
    stream.started_at_us === null
      ? null
      : new Date(stream.started_at_us / 1000 + (index / stream.rate_hz) * 1000).toISOString()
  return {
    streamId: stream.id,
    sessionId: stream.session_id,
    dogId: stream.dog_id,
    dogName: stream.dog_name,
    firstIndex,
    endIndex,
    from: at(firstIndex),
    to: at(endIndex),
  }
}

function placeWords({ streamId, sessionId, dogId, dogName, ...samples }: DamagedSamples): string {
  const { firstIndex, endIndex, from, to } = samples
  const when = from === null ? 'start unknown' : `${from} to ${to}`
  const dog = dogId === null ? 'of no dog' : `of dog ${dogId} (${dogName})`
  return `stream ${streamId} in session ${sessionId} ${dog}, index ${firstIndex} to ${endIndex - 1}, ${when}`
}

function owner({ session_id, dog_id, dog_name }: StreamRow): string {
  return dog_id === null ? `session ${session_id}` : `session ${session_id} of dog ${dog_id} (${dog_name})`
}
