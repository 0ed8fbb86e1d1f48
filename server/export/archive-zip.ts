import { createHash } from 'node:crypto'
import { PassThrough, Readable } from 'node:stream'
import { finished } from 'node:stream/promises'
import { ANALYSIS_VERSION } from '#signal/constants'
import { ZipFile } from 'yazl'
import type { DogArchive } from '../store/archives.ts'
import { SOFTWARE_VERSION } from '../software-version.ts'
import { FORMAT, FORMAT_VERSION } from './archive-files.ts'
import type { ManifestFile } from './archive-files.ts'
import { jsonText } from './archive-schemas.ts'
import { dogFiles } from './dog-files.ts'
import type { ArchiveContents } from './dog-files.ts'
import type { ArchiveFile, ExportParts } from './session-files.ts'

/**
 * The archive as a ZIP, made while it is read: nothing is kept but the list of files, whose hashes the
 * manifest, the last entry, needs. The stream fails when a file cannot be made, so that what was received
 * until then is no ZIP; destroying it ends the work.
 */
export function archiveZip(parts: ExportParts, archive: DogArchive, exportedAt: Date): Readable {
  const zip = new ZipFile()
  const output = new PassThrough()
  const stopped = new AbortController()
  output.on('close', () => stopped.abort())
  zip.on('error', (error) => output.destroy(error as Error))
  zip.outputStream.pipe(output)
  fill(zip, parts, archive, exportedAt, stopped.signal).catch((error: Error) => output.destroy(error))
  return output
}

async function fill(
  zip: ZipFile,
  parts: ExportParts,
  archive: DogArchive,
  exportedAt: Date,
  stopped: AbortSignal,
): Promise<void> {
  const contents: ArchiveContents = { sessions: [], leftOut: [], without: [] }
  const files: ManifestFile['files'] = []
  for await (const file of dogFiles(parts, archive, contents)) {
    if (stopped.aborted) return
    files.push(await added(zip, file, exportedAt, stopped))
  }
  const manifest: ManifestFile = {
    format: FORMAT,
    formatVersion: FORMAT_VERSION,
    exportedAt: exportedAt.toISOString(),
    softwareVersion: SOFTWARE_VERSION,
    analysisVersion: ANALYSIS_VERSION,
    dogId: archive.dog.id,
    ...contents,
    files,
  }
  zip.addBuffer(Buffer.from(jsonText(manifest)), 'manifest.json', { mtime: exportedAt, mode: 0o100644 })
  zip.end()
}

/** Resolves when the file has been read to its end, which waits for whoever reads the ZIP. */
async function added(
  zip: ZipFile,
  { path, content }: ArchiveFile,
  mtime: Date,
  signal: AbortSignal,
): Promise<ManifestFile['files'][number]> {
  const hash = createHash('sha256')
  let bytes = 0
  async function* hashed() {
    for await (const part of content()) {
      const chunk = typeof part === 'string' ? Buffer.from(part) : part
      hash.update(chunk)
      bytes += chunk.length
      yield chunk
    }
  }
  const stream = Readable.from(hashed(), { objectMode: false })
  zip.addReadStream(stream, path, { mtime, mode: 0o100644 })
  await finished(stream, { signal, writable: false })
  return { path, bytes, sha256: hash.digest('hex') }
}
