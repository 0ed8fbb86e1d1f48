import { readdir, readFile } from 'node:fs/promises'
import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import { describe, expect, it, onTestFinished } from 'vitest'
import { MIGRATIONS } from '#server/store/sqlite/migrations'
import { openSqliteStore } from '#server/store/sqlite/store'
import type { Store } from '#server/store/store'
import { CorruptBlockError } from '#server/store/time-series'
import { temporaryDir } from '../helpers/build-app.ts'
import { storeContract } from './store-contract.ts'

describe('SQLite store', () => {
  describe('in memory', () => storeContract(async () => open(':memory:')))
  describe('in a folder', () => storeContract(async () => open(await temporaryDir())))

  it('has on disk what was acknowledged, without being closed', async () => {
    const dir = await temporaryDir()
    const store = await open(dir)
    await withStream(store)
    await store.series.appendSamples('s', 0, threeColumns(50))
    const file = new Sqlite(join(dir, 'swaybook.sqlite'), { readonly: true })
    onTestFinished(() => void file.close())
    expect(file.prepare('select id, next_index from streams').all()).toEqual([{ id: 's', next_index: 50 }])
    expect(file.prepare('select name from dogs').all()).toEqual([{ name: 'Juniper' }])
  })

  it('flushes every commit, keeps foreign keys and overwrites what is deleted', async () => {
    const dir = await temporaryDir()
    const store = await open(dir)
    await withStream(store)
    const note = 'limps after the long walk'
    await store.records.addMark('a', { id: 'm', atS: 1, kind: 'note', note })
    expect(await onDisk(dir, note)).toBe(true)
    await store.records.deleteDog('d')
    expect(await onDisk(dir, note)).toBe(false)
  })

  it('names the block whose bytes changed', async () => {
    const dir = await temporaryDir()
    const store = await open(dir)
    await withStream(store)
    await store.series.appendSamples('s', 0, threeColumns(20))
    await store.series.appendSamples('s', 20, threeColumns(20))
    const file = new Sqlite(join(dir, 'swaybook.sqlite'))
    file.prepare('update sample_blocks set columns = zeroblob(length(columns)) where first_index = 20').run()
    file.close()
    const reading = (async () => {
      for await (const block of store.series.readSamples('s', 0, 40)) void block
    })()
    await expect(reading).rejects.toThrow(CorruptBlockError)
    await expect(reading).rejects.toThrow(/stream s at index 20/)
  })

  it('keeps every block as it was when a compaction breaks off in the middle, and compacts later', async () => {
    const dir = await temporaryDir()
    const store = await open(dir)
    await withStream(store)
    for (let i = 0; i < 200; i += 20) await store.series.appendSamples('s', i, threeColumns(20))
    const before = await blocksIn(dir)
    // Ends the write between the removal of the short blocks and the long one.
    const file = new Sqlite(join(dir, 'swaybook.sqlite'))
    onTestFinished(() => void file.close())
    file.exec(`create trigger stop before insert on sample_blocks when new.count > 100
               begin select raise(fail, 'broken off'); end`)
    const [broken, other] = await Promise.allSettled([
      store.series.compact('s'),
      store.series.appendSamples('s', 200, threeColumns(20)),
    ])
    expect(broken).toMatchObject({ status: 'rejected', reason: { message: 'broken off' } })
    expect(other).toEqual({ status: 'fulfilled', value: 220 })
    expect((await blocksIn(dir)).slice(0, 10)).toEqual(before)
    file.exec('drop trigger stop')
    await store.series.compact('s')
    expect(await blocksIn(dir)).toEqual([{ first_index: 0, count: 220, encoding: 'deflate' }])
  })

  it('stores packets as they come and compacts a long stream while it goes on', async () => {
    const dir = await temporaryDir()
    const store = await open(dir)
    await withStream(store)
    for (let i = 0; i < 2100; i += 20) await store.series.appendSamples('s', i, threeColumns(20))
    await expect.poll(async () => (await blocksIn(dir))[0].encoding).toBe('deflate')
    expect((await blocksIn(dir))[0].count).toBeGreaterThan(2000)
    expect((await blocksIn(dir)).at(-1)).toMatchObject({ count: 20, encoding: 'raw' })
  })

  it('reads the blocks that packets left before there was compaction', async () => {
    const dir = await temporaryDir()
    const store = await open(dir)
    await withStream(store)
    const file = new Sqlite(join(dir, 'swaybook.sqlite'))
    onTestFinished(() => void file.close())
    const insert =
      file.prepare(`insert into sample_blocks (stream_id, first_index, count, dtype, encoding, columns, crc32)
       values (?, ?, ?, ?, ?, ?, ?)`)
    for (const { first, count, encoding, columns, crc } of OLD_BLOCKS) {
      insert.run('s', first, count, 'float32', encoding, Buffer.from(columns, 'base64'), crc)
    }
    file.prepare('update streams set next_index = 202').run()
    const expected = Array.from({ length: 202 }, (_, i) => Math.fround(Math.sin(i / 10)))
    for (let round = 0; round < 2; round++) {
      const read: number[] = []
      for await (const block of store.series.readSamples('s', 0, 300)) read.push(...block.values[1])
      expect(read).toEqual(expected)
      await store.series.compact('s')
    }
    expect(await blocksIn(dir)).toHaveLength(1)
  })

  it('brings a database up to date once and opens it again unchanged', async () => {
    const dir = await temporaryDir()
    await (await openSqliteStore(dir, 1)).close()
    await (await openSqliteStore(dir, 1)).close()
    const file = new Sqlite(join(dir, 'swaybook.sqlite'), { readonly: true })
    const applied = file.prepare('select name from kysely_migration order by name').all()
    expect(applied).toEqual(Object.keys(MIGRATIONS).map((name) => ({ name })))
    expect(file.pragma('journal_mode', { simple: true })).toBe('wal')
    file.close()
  })
})

async function open(dir: string): Promise<Store> {
  const store = await openSqliteStore(dir, 1)
  onTestFinished(() => store.close())
  return store
}

async function withStream({ records, series }: Store): Promise<void> {
  await records.addDog({ id: 'd', name: 'Juniper' })
  await records.addSession({
    id: 'a',
    dogId: 'd',
    sensor: 'phone',
    fileName: null,
    contentHash: null,
    setUp: null,
    mount: 'auto',
    state: 'recording',
    startedAtUs: null,
  })
  await series.addStream({
    id: 's',
    sessionId: 'a',
    kind: 'live',
    columns: ['ax', 'ay', 'az'],
    rateHz: 100,
    startedAtUs: null,
    resolutionMs2: null,
    source: null,
  })
}

function threeColumns(count: number) {
  const values = [1, 2, 3].map((axis) => Float32Array.from({ length: count }, (_, i) => i / axis))
  return { dtype: 'float32' as const, values }
}

async function blocksIn(dir: string) {
  const file = new Sqlite(join(dir, 'swaybook.sqlite'), { readonly: true })
  const rows = file.prepare('select first_index, count, encoding from sample_blocks order by first_index')
  const blocks = rows.all() as { first_index: number; count: number; encoding: string }[]
  file.close()
  return blocks
}

async function onDisk(dir: string, text: string): Promise<boolean> {
  const files = await readdir(dir)
  const contents = await Promise.all(files.map((file) => readFile(join(dir, file))))
  return contents.some((content) => content.includes(text))
}
/** Blocks of three columns (0, sin(i / 10), 2) as the store wrote them before it compacted anything. */
const OLD_BLOCKS = [
  { first: 0, count: 2, encoding: 'raw', columns: 'AAAAAAAAAAAAAAAAdnXMPQAAAEAAAABA', crc: 1947320566 },
  {
    first: 2,
    count: 200,
    encoding: 'deflate',
    columns:
      'Y2AYHuBn7nWXzOJlsku0ZA/kX+XbL7Jzu9f8To2KZ50Tjx+u2SXmeYcrfEfh+TnTbxlldf5YyiJgKFb91GvjrrDDPeeP+0VmRdbmLnTbftF8z5GpMzrnT928Y8+/5cVRSs+N7jh+u3p1h6m66o+Ff/nz9zFzLH4Zw5AyW3bR0+g7NjcMrwSqHAv6/XK30mLFt24X2Zdx1RTtXSsW6cF59/FBl68OU0PMPjGvzBe46938bYLomxlCqutvWLxdUMn4TXDzlGCW5PmrjB+xZjr8NF28UlvuzZsTVwY6HEcBKsj3Syzveb2kI0tt1mq36Cd3/RyO//757LXp94vNfxsDJDuuzZy0eJHg3ir5zjn2Sb9YmmqYtPgvz5v180EOf4fW3o0eTR5/RAzm6m4TVDj5Y8EuN6/LX45lMu7Y68SYYPvw64smlcVOLixa7W+MrZ/JXfk/e7VVpOwSwS67GIvMY1Mu78gVWKVgPimj88inN9OuzrhUN9c0VLDpFF+lJaeiUc7aCsuCjHkP70SZO/mZ35Z7bfJR7tDz+QzaDlnXttVHPpv8tKPyxLEXz1mmpvvIbvs50OE4ClCB9/TjXwVUzD3CU/LKaurrayuLMmL87HQkmW+tLhHQylds2vyIXcbAMTA+q7iqrr6+ujQ3KdTVRJHn7f5+q1Wd72Lmn/8jomHlHZlWUA7SXlGQFuVjoynKcHlxyr9TM426d7/iVjB2CU7MKamuq6+rKslOCHI2lON8tr1Ns52TI3f5dSZxbVvf6PTCitr6+pry/NQIT0s1oZ+nZwffYdrjPPnwRz5lM/ew5Nyy6vr6usqizLgABz0p1nvrayS8/CRr199jldZzCIjLLBrocBwFqMDOzs7OHhsASdju3bdv37792ABIYq+NLT7ttjYEtOPVTaJ2h2ECAA==',
    crc: 3582641906,
  },
]
