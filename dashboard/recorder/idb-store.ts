import { openDB } from 'idb'
import type { DBSchema, IDBPDatabase } from 'idb'
import type { MarkMessage } from '#protocol/messages'
import type { OutboxFrame } from '../lib/outbox'
import type { Batch, KeptContent, KeptStream, KeptSummary, OutboxStore } from './outbox-store'

const NAME = 'swaybook-recorder'
const VERSION = 1

interface Schema extends DBSchema {
  streams: { key: string; value: KeptStream }
  /** Key: stream and index of the first sample, so that a stream reads in order. */
  frames: { key: [string, number]; value: OutboxFrame }
  marks: { key: [string, string]; value: MarkMessage }
}

const STORES = ['streams', 'frames', 'marks'] as const

/**
 * The outbox in IndexedDB. The start and the end of a stream are written through to the disk
 * (`strict`), frames are not: the browser writes them within moments, and what a crash of the whole
 * machine takes was in most cases sent already.
 *
 * @throws {Error} when the browser keeps nothing (no IndexedDB, private window)
 */
export async function openIdbStore(): Promise<OutboxStore> {
  const store = new IdbStore()
  await store.open()
  return store
}

class IdbStore implements OutboxStore {
  #opening: Promise<IDBPDatabase<Schema>> | null = null

  /** The connection; opened anew when the browser closed it. */
  open(): Promise<IDBPDatabase<Schema>> {
    const forget = () => (this.#opening = null)
    this.#opening ??= openDB<Schema>(NAME, VERSION, {
      upgrade(database) {
        for (const name of STORES) database.createObjectStore(name)
      },
      // Another tab with a newer version waits for this one.
      blocking: (_current, _blocked, event) => {
        forget()
        ;(event.target as IDBDatabase).close()
      },
      terminated: forget,
    }).catch((error: unknown) => {
      forget()
      throw error
    })
    return this.#opening
  }

  async begin(recording: KeptStream['recording']) {
    const tx = (await this.open()).transaction('streams', 'readwrite', { durability: 'strict' })
    const known = await tx.store.get(recording.stream)
    if (!known) {
      const stream = { recording, opened: false, finished: false, nextIndex: 0 }
      await tx.store.put(stream, recording.stream)
    }
    await tx.done
  }

  async opened(stream: string) {
    const tx = (await this.open()).transaction('streams', 'readwrite', { durability: 'strict' })
    const known = await tx.store.get(stream)
    if (known) await tx.store.put({ ...known, opened: true }, stream)
    await tx.done
  }

  async keep(stream: string, { frames, marks, finished }: Batch) {
    const durability = finished ? 'strict' : 'relaxed'
    const tx = (await this.open()).transaction(STORES, 'readwrite', { durability })
    const writes: Promise<unknown>[] = [tx.done]
    for (const frame of frames) writes.push(tx.objectStore('frames').put(frame, [stream, frame.firstIndex]))
    for (const mark of marks) writes.push(tx.objectStore('marks').put(mark, [stream, mark.id]))
    const streams = tx.objectStore('streams')
    const known = await streams.get(stream)
    if (!known) {
      tx.abort()
      await Promise.allSettled(writes)
      throw new Error(`stream ${stream} is not kept on this device any more`)
    }
    const last = frames.at(-1)
    const nextIndex = Math.max(known.nextIndex, last ? last.firstIndex + last.count : 0)
    writes.push(streams.put({ ...known, nextIndex, finished: finished ?? known.finished }, stream))
    await Promise.all(writes)
  }

  async forgetBelow(stream: string, index: number) {
    await (await this.open()).delete('frames', IDBKeyRange.bound([stream, 0], [stream, index], false, true))
  }

  async forgetMark(stream: string, id: string) {
    await (await this.open()).delete('marks', [stream, id])
  }

  async discard(stream: string) {
    const tx = (await this.open()).transaction(STORES, 'readwrite', { durability: 'strict' })
    await Promise.all([
      tx.objectStore('frames').delete(allOf(stream)),
      tx.objectStore('marks').delete(allOf(stream)),
      tx.objectStore('streams').delete(stream),
      tx.done,
    ])
  }

  async read(stream: string): Promise<KeptContent | null> {
    const tx = (await this.open()).transaction(STORES, 'readonly')
    const [known, frames, marks] = await Promise.all([
      tx.objectStore('streams').get(stream),
      tx.objectStore('frames').getAll(allOf(stream)),
      tx.objectStore('marks').getAll(allOf(stream)),
    ])
    return known ? { stream: known, frames, marks: marks.sort((a, b) => a.atS - b.atS) } : null
  }

  async list(): Promise<KeptSummary[]> {
    const tx = (await this.open()).transaction(STORES, 'readonly')
    const streams = await tx.objectStore('streams').getAll()
    const summaries: KeptSummary[] = []
    for (const stream of streams) {
      let unsentSamples = 0
      const range = allOf(stream.recording.stream)
      for await (const { value } of tx.objectStore('frames').iterate(range)) unsentSamples += value.count
      const unsentMarks = await tx.objectStore('marks').count(range)
      summaries.push({ stream, unsentSamples, unsentMarks })
    }
    return summaries
  }

  async close() {
    const opening = this.#opening
    this.#opening = null
    ;(await opening)?.close()
  }
}

/** Keys are arrays, and every array key that begins with the stream lies between these two. */
function allOf(stream: string): IDBKeyRange {
  return IDBKeyRange.bound([stream], [stream, []])
}
