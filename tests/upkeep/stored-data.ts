import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import type { Database } from 'better-sqlite3'
import { openSqliteStore } from '#server/store/sqlite/store'
import { buildApp } from '#server/app'
import { testConfig } from '../helpers/build-app.ts'
import { fullDog } from '../export/full-dog.ts'
import type { AddressInfo } from 'node:net'

export const RATE_HZ = 100
/** So long that blocks stay as they are. */
const BLOCK_SAMPLES = 2000
export const STARTED_AT_US = Date.UTC(2026, 2, 1, 10) * 1000

/** Stores, in a folder no server runs on, one dog that fills every table. */
export async function storeFullDog(dataDir: string): Promise<void> {
  const app = await buildApp(testConfig({ dataDir }))
  await app.listen({ host: '127.0.0.1', port: 0 })
  const { port } = app.server.address() as AddressInfo
  await fullDog({ url: `http://127.0.0.1:${port}`, wsUrl: `ws://127.0.0.1:${port}` })
  await app.close()
}

/** Stores a dog with one live session of `blocks` long blocks, which is still being recorded. */
export async function storeSession(dataDir: string, name: string, blocks = 3): Promise<void> {
  const store = await openSqliteStore(dataDir, 1)
  await store.records.addDog({ id: `dog-${name}`, name, demo: false })
  await store.records.addSession({
    id: `session-${name}`,
    dogId: `dog-${name}`,
    sensor: 'bluetooth',
    fileName: null,
    contentHash: null,
    setUp: null,
    mount: 'auto',
    state: 'recording',
    startedAtUs: STARTED_AT_US,
  })
  await store.series.addStream({
    id: `stream-${name}`,
    sessionId: `session-${name}`,
    kind: 'live',
    columns: ['ax', 'ay', 'az'],
    rateHz: RATE_HZ,
    startedAtUs: STARTED_AT_US,
    resolutionMs2: null,
    source: null,
  })
  for (let block = 0; block < blocks; block++) {
    const values = [0, 1, 2].map((axis) =>
      Float32Array.from({ length: BLOCK_SAMPLES }, (_, i) => i / 8 + axis),
    )
    await store.series.appendSamples(`stream-${name}`, block * BLOCK_SAMPLES, { dtype: 'float32', values })
  }
  await store.close()
}

/** Changes the stored tables behind the back of everybody. */
export function tamper(dataDir: string, change: (raw: Database) => void): void {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'))
  try {
    raw.pragma('foreign_keys = OFF')
    change(raw)
  } finally {
    raw.close()
  }
}

/** Turns over one bit in the middle of a block. */
export function flipBit(dataDir: string, streamId: string, firstIndex: number): void {
  tamper(dataDir, (raw) => {
    const read = raw.prepare<[string, number], { columns: Buffer }>(
      'select columns from sample_blocks where stream_id = ? and first_index = ?',
    )
    const { columns } = read.get(streamId, firstIndex)!
    columns[Math.floor(columns.length / 2)] ^= 1
    raw
      .prepare('update sample_blocks set columns = ? where stream_id = ? and first_index = ?')
      .run(columns, streamId, firstIndex)
  })
}
