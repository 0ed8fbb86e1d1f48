import { parentPort } from 'node:worker_threads'
import { openRaw } from './connection.ts'
import { DirectSampleWriter } from './sample-writer.ts'
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
  const outcomes = writes.map((write): Promise<Outcome> => {
    const { stream, firstIndex } = write
    const stored =
      write.kind === 'lost'
        ? writer.appendLost(stream, firstIndex, write.count)
        : writer.appendSamples(stream, firstIndex, unpackColumns(write, bytes), write.arrivedAtUs)
    return stored.catch((error: unknown) => failureOf(error, stream))
  })
  writer.flush()
  tell({ kind: 'batch', outcomes: await Promise.all(outcomes) })
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
