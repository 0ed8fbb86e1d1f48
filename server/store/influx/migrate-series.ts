import { openSqliteParts } from '../sqlite/store.ts'
import { Deletions } from './deletions.ts'
import { InfluxServer } from './influx-server.ts'
import { Places } from './places.ts'
import { blocksReadBack } from './read-back.ts'
import { RemoteSamples } from './remote-samples.ts'
import type { InfluxSettings } from './settings.ts'
import { openInfluxStore } from './store.ts'

/** Samples could not all be moved; the message says why. What was moved is moved: the same again goes on from there. */
export class MigrationStoppedError extends Error {
  override readonly name = 'MigrationStoppedError'
}

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
    for await (const { stream, replacements } of blocksReadBack({ raw, places, remote })) {
      await writer.replaceBlocks(stream, replacements)
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
}
