import { readdir, readFile } from 'node:fs/promises'
import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import { describe, expect, it, onTestFinished } from 'vitest'
import { openSqliteStore } from '#server/store/sqlite/store'
import type { Store } from '#server/store/store'
import { CorruptBlockError } from '#server/store/time-series'
import { temporaryDir } from '../helpers/build-app.ts'
import { storeContract } from './store-contract.ts'

describe('SQLite store', () => {
  storeContract(async () => open(':memory:'))

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

  it('brings a database up to date once and opens it again unchanged', async () => {
    const dir = await temporaryDir()
    await (await openSqliteStore(dir, 1)).close()
    await (await openSqliteStore(dir, 1)).close()
    const file = new Sqlite(join(dir, 'swaybook.sqlite'), { readonly: true })
    const applied = file.prepare('select name from kysely_migration order by name').all()
    expect(applied).toEqual([{ name: '001-first' }, { name: '002-plans-and-arrivals' }])
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

async function onDisk(dir: string, text: string): Promise<boolean> {
  const files = await readdir(dir)
  const contents = await Promise.all(files.map((file) => readFile(join(dir, file))))
  return contents.some((content) => content.includes(text))
}
