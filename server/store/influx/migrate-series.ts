import { encodeDeflated } from '../sqlite/block-codec.ts'
import type { SampleWriter } from '../sqlite/sample-writer.ts'
import type { SampleBlocksTable } from '../sqlite/schema.ts'
import { openSqliteParts } from '../sqlite/store.ts'
import { Deletions } from './deletions.ts'
import { InfluxServer } from './influx-server.ts'
import { Places } from './places.ts'
import { RemoteSamples } from './remote-samples.ts'
import type { InfluxSettings } from './settings.ts'
import { openInfluxStore } from './store.ts'

/** Samples could not all be moved; the message says why. What was moved is moved: the same again goes on from there. */
export class MigrationStoppedError extends Error {
  override readonly name = 'MigrationStoppedError'
}

const BLOCKS_AT_ONCE = 16

/**
 * Moves all samples of a stopped server's folder to InfluxDB. Every block is written, read back and compared with its
 * checksum before it is given up here.
 * @throws {DataFolderError} when a server runs on the folder
 * @throws {MigrationStoppedError}
 */
export async function moveToInflux(dataDir: string, settings: InfluxSettings): Promise<void> {
  const problems: unknown[] = []
  const store = await openInfluxStore(dataDir, settings, 1, (error) => void problems.push(error))
  try {
    await store.caughtUp()
    const { waitingBlocks, refusedStreams, problem } = store.seriesStatus()
    if (waitingBlocks === 0 && refusedStreams === 0) return
    const left = `${waitingBlocks} blocks wait, ${refusedStreams} streams were refused`
    throw new MigrationStoppedError(`${left}: ${problem ?? 'see the log'}`, { cause: problems[0] })
  } finally {
    await store.close()
  }
}

/**
 * Moves all samples back into the folder: every block is read, compared with its checksum and stored here, then InfluxDB
 * deletes what it held.
 * @throws {DataFolderError} when a server runs on the folder
 * @throws {MigrationStoppedError}
 */
export async function moveToSqlite(dataDir: string, settings: InfluxSettings): Promise<void> {
  const { connection, writer, release } = await openSqliteParts(dataDir, 0, (error) => {
    throw error
  })
  const { raw } = connection
  const server = new InfluxServer(settings)
  const [places, deletions, remote] = [new Places(raw), new Deletions(raw, server), new RemoteSamples(server)]
  try {
    const next = raw
      .prepare<[], string>(`select stream_id from sample_blocks where encoding = 'influx' limit 1`)
      .pluck()
    for (let stream = next.get(); stream !== undefined; stream = next.get()) {
      await bringBack(stream, places, remote, writer)
    }
    // In one transaction with the orders to delete what lay there.
    raw.exec('delete from series_places')
    await deletions.carryOut()
  } catch (error) {
    throw new MigrationStoppedError((error as Error).message, { cause: error })
  } finally {
    await writer.close()
    await connection.db.destroy()
    release()
  }

  async function bringBack(id: string, place: Places, from: RemoteSamples, to: SampleWriter): Promise<void> {
    const at = place.of(id)
    if (!at) throw new Error(`it is not known where stream ${id} lies in InfluxDB`)
    const columns = raw
      .prepare<[string], string>('select columns from streams where id = ?')
      .pluck()
      .get(id)!
      .split(',')
    const rows = raw
      .prepare<[string, number], SampleBlocksTable>(
        `select * from sample_blocks where stream_id = ? and encoding = 'influx' order by first_index limit ?`,
      )
      .all(id, BLOCKS_AT_ONCE)
    const blocks = rows.map(({ first_index, count, dtype, crc32 }) => ({
      firstIndex: first_index,
      count,
      dtype,
      crc32,
    }))
    const replacements = []
    for (const [i, block] of blocks.entries()) {
      const [samples] = await from.read({ id, columns, place: at }, [block])
      const { firstIndex, count } = block
      const was = { encoding: rows[i].encoding, crc32: rows[i].crc32 }
      replacements.push({ firstIndex, count, was, now: encodeDeflated(samples) })
    }
    await to.replaceBlocks(id, replacements)
  }
}
