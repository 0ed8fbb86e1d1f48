import type { Database as SqliteDatabase } from 'better-sqlite3'
import { CorruptBlockError } from '../time-series.ts'
import { InfluxServer } from './influx-server.ts'
import { Places } from './places.ts'
import { blocksReadBack } from './read-back.ts'
import { RemoteSamples } from './remote-samples.ts'
import type { InfluxSettings } from './settings.ts'

/** Samples of a database that InfluxDB holds. */
export function remoteSampleCount(raw: SqliteDatabase): number {
  const query = `select coalesce(sum(count), 0) from sample_blocks where encoding = 'influx'`
  return raw.prepare<[], number>(query).pluck().get() ?? 0
}

/**
 * Makes a copy of a server's database complete: samples that InfluxDB holds are read from there and kept in it, as the
 * embedded store keeps them. InfluxDB is not changed, and the copy knows nothing of it any more. A session that was
 * deleted since the copy was made, of which InfluxDB has nothing left, leaves the copy, too; what else InfluxDB does
 * not give as it was stored becomes a damaged block, which every check names.
 * @param isStillThere whether the server has a stream now
 * @throws {InfluxError} when InfluxDB does not answer
 */
export async function embedSamples(
  raw: SqliteDatabase,
  settings: InfluxSettings,
  isStillThere: (stream: string) => boolean,
): Promise<void> {
  const remote = new RemoteSamples(new InfluxServer(settings))
  const replace = raw.prepare(
    `update sample_blocks set encoding = ?, columns = ?, crc32 = ? where stream_id = ? and first_index = ?`,
  )
  const drop = raw.prepare('delete from sessions where id = (select session_id from streams where id = ?)')
  const damaged: { stream: string }[] = []
  const otherwise = (stream: string, error: unknown) => {
    if (!(error instanceof CorruptBlockError)) throw error
    damaged.push({ stream })
    // Bytes there are none, and no checksum that fits them.
    return { encoding: 'raw' as const, columns: Buffer.alloc(0), crc32: 1 }
  }
  for await (const { stream, replacements } of blocksReadBack({
    raw,
    places: new Places(raw),
    remote,
    otherwise,
  })) {
    raw.transaction(() => {
      for (const { firstIndex, now } of replacements) {
        replace.run(now.encoding, now.columns, now.crc32, stream, firstIndex)
      }
    })()
  }
  for (const { stream } of damaged) if (!isStillThere(stream)) drop.run(stream)
  forgetInflux(raw)
}

/** Where samples lay and what is still to be deleted there: nothing that a copy without any there should know. */
export function forgetInflux(raw: SqliteDatabase): void {
  // Data of an early version has no such tables.
  if (!raw.prepare("select 1 from sqlite_master where name = 'series_places'").get()) return
  // Places first: each orders the deletion of what lies there, which is not for a copy to do.
  raw.exec('delete from series_places; delete from series_deletions; delete from series_refusals')
}
