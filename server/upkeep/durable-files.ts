import { createHash } from 'node:crypto'
import { closeSync, createReadStream, fsyncSync, openSync, writeFileSync } from 'node:fs'
import { platform } from 'node:process'
import { pipeline } from 'node:stream/promises'

/** What was written to a file is on the disk when this returns. */
export function flushFile(path: string): void {
  const file = openSync(path, 'r+')
  try {
    fsyncSync(file)
  } finally {
    closeSync(file)
  }
}

/** The same for names: a rename is on the disk once its folder is flushed. Windows flushes no folders. */
export function flushFolder(path: string): void {
  if (platform === 'win32') return
  const folder = openSync(path, 'r')
  try {
    fsyncSync(folder)
  } finally {
    closeSync(folder)
  }
}

/** A new file, readable by its owner alone, on the disk when this returns. */
export function writeNewFile(path: string, text: string): void {
  writeFileSync(path, text, { flag: 'wx', mode: 0o600, flush: true })
}

export interface FileSum {
  readonly bytes: number
  readonly sha256: string
}

export async function fileSum(path: string): Promise<FileSum> {
  const hash = createHash('sha256')
  let bytes = 0
  await pipeline(createReadStream(path), async (chunks: AsyncIterable<Buffer>) => {
    for await (const chunk of chunks) {
      hash.update(chunk)
      bytes += chunk.length
    }
  })
  return { bytes, sha256: hash.digest('hex') }
}
