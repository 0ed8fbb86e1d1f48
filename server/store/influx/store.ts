import { SqliteArchives } from '../sqlite/archives.ts'
import { SqlitePeople } from '../sqlite/people/people.ts'
import { openSqliteParts } from '../sqlite/store.ts'
import type { Store } from '../store.ts'
import { Availability } from './availability.ts'
import { CatchUp } from './catch-up.ts'
import { Deletions } from './deletions.ts'
import { InfluxServer } from './influx-server.ts'
import { Places } from './places.ts'
import { InfluxRecords } from './records.ts'
import { RemoteSamples } from './remote-samples.ts'
import { InfluxSampleWriter } from './sample-writer.ts'
import type { InfluxSettings } from './settings.ts'
import { InfluxTimeSeries } from './time-series.ts'
import { Turns } from './turns.ts'
import { WaitingBlocks } from './waiting-blocks.ts'

export interface InfluxStore extends Store {
  /** Resolves when nothing waits for InfluxDB any more, or InfluxDB takes nothing now. */
  caughtUp(): Promise<void>
}

/**
 * Records and the state of streams in `dataDir` (`:memory:` for none on disk), samples in InfluxDB. It opens whether
 * InfluxDB answers or not; `onProblem` is told what went wrong where nobody waits for it.
 * @throws {DataFolderError} when the folder cannot be used, or another server has it
 */
export async function openInfluxStore(
  dataDir: string,
  settings: InfluxSettings,
  commitMs: number,
  onProblem: (error: unknown) => void,
): Promise<InfluxStore> {
  // Appends are joined before they get here.
  const { connection, writer: embedded, release } = await openSqliteParts(dataDir, 0, onProblem)
  const { raw } = connection
  const server = new InfluxServer(settings)
  const [waiting, places, deletions] = [new WaitingBlocks(raw), new Places(raw), new Deletions(raw, server)]
  const parts = {
    waiting,
    places,
    deletions,
    remote: new RemoteSamples(server),
    embedded,
    turns: new Turns(),
    onProblem,
  }
  const backListeners: (() => void)[] = []
  const catchUp: CatchUp = new CatchUp(parts, () => availability)
  const availability: Availability = new Availability(
    settings,
    () => catchUp.wake(),
    () => backListeners.forEach((listener) => listener()),
  )
  const writer = new InfluxSampleWriter({ ...parts, raw, intervalMs: commitMs, availability, catchUp })
  catchUp.wake()
  const series = new InfluxTimeSeries(connection, writer, places, parts.remote, (error) =>
    availability.failed(error),
  )
  return {
    records: new InfluxRecords(connection, () => catchUp.deleted()),
    series,
    archives: new SqliteArchives(connection, () => catchUp.wake()),
    people: new SqlitePeople(connection),
    caughtUp: () => catchUp.idle(),
    onSeriesBack: (listener) => void backListeners.push(listener),
    onDamaged: (listener) => series.onDamaged(listener),
    seriesStatus() {
      const { count: waitingBlocks, refused } = waiting
      const isBehind = waitingBlocks > 0 || deletions.pending > 0
      return {
        kind: 'influx',
        state: availability.isOut ? 'spilling' : isBehind ? 'catching up' : 'ok',
        since: availability.since,
        problem: availability.problem ?? refused.reason,
        waitingBlocks,
        refusedStreams: refused.streams,
        pendingDeletions: deletions.pending,
      }
    },
    async close() {
      availability.close()
      // What is still waiting stays here for the next start.
      await catchUp.close()
      await writer.close()
      await connection.db.destroy()
      release()
    },
  }
}
