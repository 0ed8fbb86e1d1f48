import { parentPort } from 'node:worker_threads'
import { ArchiveError } from './archive-error.ts'
import type { FromImportThread, ImportOrder } from './import-messages.ts'
import { stage } from './stage.ts'

if (!parentPort) throw new Error('import-thread.ts runs as a worker thread only')
const port = parentPort
const tell = (message: FromImportThread) => port.postMessage(message)

port.once('message', (order: ImportOrder) => {
  stage({ ...order, found: (dogId) => tell({ kind: 'found', dogId }) }).then(
    (staged) => tell({ kind: 'staged', staged }),
    (error: unknown) => tell({ kind: 'failed', failure: failureOf(error) }),
  )
})

function failureOf(error: unknown): Extract<FromImportThread, { kind: 'failed' }>['failure'] {
  const { message, stack } = error as Error
  if (!(error instanceof ArchiveError)) return { refused: null, message, stack }
  const { code, file, line, remedy } = error
  return { refused: { code, file, line, remedy }, message, stack }
}
