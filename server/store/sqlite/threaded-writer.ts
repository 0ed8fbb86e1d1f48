import type { Worker } from 'node:worker_threads'
import { startThread } from '../../analysis/thread.ts'
import type { SampleColumns } from '../time-series.ts'
import type { BlockReplacement, RemoteSamplesRow, SampleWriter } from './sample-writer.ts'
import { errorOf, packColumns, packedBytes } from './writer-messages.ts'
import type { FromThread, Outcome, ToThread, Write } from './writer-messages.ts'

interface Settle<T> {
  resolve(value: T): void
  reject(error: unknown): void
}

interface Pending extends Settle<number> {
  readonly write: Write
  readonly columns: SampleColumns | null
}

/**
 * Writes samples in a thread of its own: a flush to the disk takes from half a millisecond to far
 * too long, and windows must not wait for it. Writes are sent as one batch per interval, the next
 * one when the last is through; records stay on the connection of this thread, and SQLite lets the
 * two take turns.
 */
export class ThreadedSampleWriter implements SampleWriter {
  readonly #dataDir: string
  readonly #commitMs: number
  readonly #onProblem: (error: unknown) => void
  #thread: Worker | null = null
  #pending: Pending[] = []
  #underWay: readonly Pending[] | null = null
  #timer: NodeJS.Timeout | null = null
  readonly #compactions = new Map<number, Settle<void>>()
  #compactionId = 0
  #afterBatch = () => {}
  #closing: Settle<void> | null = null

  constructor(dataDir: string, commitMs: number, onProblem: (error: unknown) => void) {
    this.#dataDir = dataDir
    this.#commitMs = commitMs
    this.#onProblem = onProblem
  }

  appendSamples(
    stream: string,
    firstIndex: number,
    columns: SampleColumns,
    arrivedAtUs: number | null,
  ): Promise<number> {
    const { dtype, values } = columns
    const shape = { dtype, columns: values.length, count: values[0].length, offset: 0 }
    return this.#add({ kind: 'samples', stream, firstIndex, arrivedAtUs, ...shape }, columns)
  }

  appendLost(stream: string, firstIndex: number, count: number): Promise<number> {
    return this.#add({ kind: 'lost', stream, firstIndex, count }, null)
  }

  appendRemote(stream: string, row: RemoteSamplesRow): Promise<number> {
    return this.#add({ kind: 'remote', stream, row }, null)
  }

  replaceBlocks(stream: string, blocks: readonly BlockReplacement[]): Promise<number> {
    return this.#add({ kind: 'replace', stream, blocks }, null)
  }

  async compact(stream: string): Promise<void> {
    const id = ++this.#compactionId
    await new Promise<void>((resolve, reject) => {
      this.#compactions.set(id, { resolve, reject })
      this.#post({ kind: 'compact', id, stream })
    })
  }

  async close(): Promise<void> {
    while (this.#pending.length > 0 || this.#underWay) {
      this.#send()
      await new Promise<void>((resolve) => (this.#afterBatch = resolve))
    }
    const thread = this.#thread
    if (!thread) return
    await new Promise<void>((resolve, reject) => {
      this.#closing = { resolve, reject }
      this.#post({ kind: 'close' })
    })
    this.#thread = null
    await thread.terminate()
  }

  #add(write: Write, columns: SampleColumns | null): Promise<number> {
    return new Promise((resolve, reject) => {
      this.#pending.push({ write, columns, resolve, reject })
      this.#schedule()
    })
  }

  #schedule(): void {
    if (this.#underWay || this.#pending.length === 0) return
    this.#timer ??= setTimeout(() => this.#send(), this.#commitMs)
  }

  #send(): void {
    if (this.#timer) clearTimeout(this.#timer)
    this.#timer = null
    if (this.#underWay || this.#pending.length === 0) return
    const batch = this.#pending
    this.#pending = []
    this.#underWay = batch
    let size = 0
    const writes = batch.map(({ write, columns }) => {
      if (!columns) return write
      const offset = size
      size += packedBytes(columns)
      return { ...write, offset }
    })
    const bytes = new Uint8Array(size)
    for (const [i, { columns }] of batch.entries()) {
      const write = writes[i]
      if (columns && write.kind === 'samples') packColumns(columns, bytes, write.offset)
    }
    this.#post({ kind: 'batch', writes, bytes: bytes.buffer }, [bytes.buffer])
  }

  /** The thread starts with the first write: whoever only reads needs none. */
  #post(message: ToThread, transfer: ArrayBuffer[] = []): void {
    if (!this.#thread) {
      this.#thread = this.#start()
      this.#post({ kind: 'open', dataDir: this.#dataDir, commitMs: this.#commitMs })
    }
    this.#thread.postMessage(message, transfer)
  }

  #start(): Worker {
    const thread = startThread('./writer-thread', import.meta.url)
    thread.on('message', (message: FromThread) => this.#receive(message))
    thread.on('error', (error) => this.#broke(thread, error))
    thread.on('exit', () => this.#broke(thread, new Error('the writing thread has ended')))
    return thread
  }

  #receive(message: FromThread): void {
    switch (message.kind) {
      case 'batch':
        return this.#settle(message.outcomes)
      case 'compacted': {
        const asked = this.#compactions.get(message.id)
        this.#compactions.delete(message.id)
        if (message.failure) asked?.reject(errorOf(message.failure))
        else asked?.resolve()
        return
      }
      case 'problem':
        return this.#onProblem(errorOf(message.failure))
      case 'closed':
        return this.#closing?.resolve()
    }
  }

  #settle(outcomes: readonly Outcome[]): void {
    const batch = this.#underWay ?? []
    this.#underWay = null
    this.#schedule()
    for (const [i, { resolve, reject }] of batch.entries()) {
      const outcome = outcomes[i]
      if (typeof outcome === 'number') resolve(outcome)
      else reject(errorOf(outcome))
    }
    this.#afterBatch()
  }

  /** What was under way may be stored or not: whoever sent it asks the store. The next write starts a new thread. */
  #broke(thread: Worker, error: Error): void {
    if (this.#thread !== thread) return
    this.#thread = null
    for (const asked of this.#compactions.values()) asked.reject(error)
    this.#compactions.clear()
    const batch = this.#underWay ?? []
    this.#underWay = null
    for (const { reject } of batch) reject(error)
    this.#schedule()
    this.#afterBatch()
    this.#closing?.reject(error)
  }
}
