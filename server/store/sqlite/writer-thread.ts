import { parentPort } from 'node:worker_threads'
import { openRaw } from './connection.ts'
import { DirectSampleWriter } from './sample-writer.ts'
import type { BlockReplacement } from './sample-writer.ts'
import { failureOf, unpackColumns } from './writer-messages.ts'
import type { FromThread, Outcome, ToThread, Write } from './writer-messages.ts'

if (!parentPort) throw new Error('writer-thread.ts runs as a worker thread only')
const port = parentPort
const tell = (message: FromThread) => port.postMessage(message)

let writer: DirectSampleWriter
let release = () => {}

port.on('message', (message: ToThread) => {
  switch (message.kind) {
    case 'open':
      return open(message.dataDir, message.commitMs)
    case 'batch':
      return void store(message.writes, message.bytes)
    case 'compact':
      return void compact(message.id, message.stream)
    case 'close':
      return void close()
  }
})

function open(dataDir: string, commitMs: number): void {
  const raw = openRaw(dataDir)
  writer = new DirectSampleWriter(raw, commitMs, (error) =>
    tell({ kind: 'problem', failure: failureOf(error) }),
  )
  release = () => raw.close()
}

/** One transaction per batch. */
async function store(writes: readonly Write[], bytes: ArrayBuffer): Promise<void> {
  const outcomes = writes.map((write): Promise<Outcome> =>
    begun(write, bytes).catch((error: unknown) => failureOf(error, write.stream)),
  )
  writer.flush()
  tell({ kind: 'batch', outcomes: await Promise.all(outcomes) })
}

function begun(write: Write, bytes: ArrayBuffer): Promise<number> {
  const { stream } = write
  switch (write.kind) {
    case 'samples':
      return writer.appendSamples(stream, write.firstIndex, unpackColumns(write, bytes), write.arrivedAtUs)
    case 'lost':
      return writer.appendLost(stream, write.firstIndex, write.count)
    case 'remote':
      return writer.appendRemote(stream, write.row)
    case 'replace':
      return writer.replaceBlocks(stream, withBuffers(write.blocks))
  }
}

/** Buffers cross between threads as plain byte arrays. */
function withBuffers(blocks: readonly BlockReplacement[]): BlockReplacement[] {
  return blocks.map((block) => ({ ...block, now: { ...block.now, columns: Buffer.from(block.now.columns) } }))
}

async function compact(id: number, stream: string): Promise<void> {
  const failure = await writer.compact(stream).then(
    () => null,
    (error: unknown) => failureOf(error, stream),
  )
  tell({ kind: 'compacted', id, failure })
}

async function close(): Promise<void> {
  await writer.close()
  release()
  tell({ kind: 'closed' })
}
