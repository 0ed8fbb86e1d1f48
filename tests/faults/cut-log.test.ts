import { copyFile, mkdir, truncate } from 'node:fs/promises'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it, onTestFinished } from 'vitest'
import { openSqliteStore } from '#server/store/sqlite/store'
import { createRandom } from '#signal/simulator/random'
import { temporaryDir } from '../helpers/build-app.ts'
import { CHANNELS, truth } from './steady-sender.ts'
import { expectStored } from './stored-truth.ts'

const CUTS = 60
const SEED = 1

it(
  'a log of the database cut at any byte leaves whole commits: a beginning of the stream, exactly',
  { timeout: 120_000 },
  async () => {
    const dir = await temporaryDir()
    const live = join(dir, 'live')
    await mkdir(live)
    const store = await openSqliteStore(live, 1)
    onTestFinished(() => store.close())
    await store.records.addDog({ id: 'd', name: 'Juniper' })
    const session = { id: 's', dogId: 'd', sensor: 'phone', fileName: null, contentHash: null, setUp: null }
    await store.records.addSession({ ...session, mount: 'auto', state: 'recording', startedAtUs: null })
    const stream = { id: `steady-${SEED}`, sessionId: 's', kind: 'live' as const, rateHz: 100 }
    const columns = ['ax', 'ay', 'az']
    await store.series.addStream({ ...stream, columns, startedAtUs: null, resolutionMs2: null, source: null })
    // Long enough to be compacted on the way, short enough to stay in the log.
    for (let i = 0; i < 3000; i += 30) await store.series.appendSamples(stream.id, i, packet(i, 30))
    await store.series.compact(stream.id)
    for (let i = 3000; i < 3300; i += 30) await store.series.appendSamples(stream.id, i, packet(i, 30))

    const random = createRandom(9)
    const names = ['swaybook.sqlite', 'swaybook.sqlite-wal']
    const logBytes = readFileSync(join(live, names[1])).length
    expect(logBytes).toBeGreaterThan(100_000)
    const reached = new Set<number>()
    for (let cut = 0; cut < CUTS; cut++) {
      const copy = join(dir, `cut-${cut}`)
      await mkdir(copy)
      for (const name of names) await copyFile(join(live, name), join(copy, name))
      const bytes = cut === 0 ? logBytes : Math.floor(random.uniform(logBytes * 0.3, logBytes))
      await truncate(join(copy, names[1]), bytes)
      const opened = await openSqliteStore(copy, 1)
      const known = await opened.series.stream(stream.id)
      if (known) {
        const { nextIndex } = await opened.series.state(stream.id)
        expect(nextIndex % 30).toBe(0)
        await expectStored(opened, SEED, nextIndex)
        reached.add(nextIndex)
      }
      await opened.close()
    }
    expect(Math.max(...reached)).toBe(3300)
    expect(reached.size, 'different places').toBeGreaterThan(CUTS / 4)
  },
)

function packet(firstIndex: number, count: number) {
  const values = Array.from({ length: CHANNELS }, (_, axis) =>
    Float32Array.from({ length: count }, (_, i) => truth(SEED, axis, firstIndex + i)),
  )
  return { dtype: 'float32' as const, values }
}
