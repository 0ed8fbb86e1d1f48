import { createHash } from 'node:crypto'
import { buffer } from 'node:stream/consumers'
import { fromBufferPromise } from 'yauzl'
import { ZipFile } from 'yazl'
import type { App } from '#server/app'
import { call, hostOf } from './build-app.ts'

export type Files = Map<string, Buffer>

/** The archive of a dog as the API gives it. */
export async function exportedZip(app: App, dogId: string, cookie?: string): Promise<Buffer> {
  const headers: Record<string, string> = cookie === undefined ? {} : { cookie }
  const answer = await call(app, { method: 'GET', url: `/api/dogs/${dogId}/export.zip`, headers })
  if (answer.statusCode !== 200) throw new Error(`export: ${answer.statusCode} ${answer.body}`)
  return answer.rawPayload
}

export async function unzipped(zip: Buffer): Promise<Files> {
  const files: Files = new Map()
  const open = await fromBufferPromise(zip)
  for await (const entry of open.eachEntry()) {
    files.set(entry.fileName, await buffer(await open.openReadStreamPromise(entry)))
  }
  return files
}

/** A ZIP of files, in their order. */
export async function zipped(files: Iterable<readonly [string, Buffer | string]>): Promise<Buffer> {
  const zip = new ZipFile()
  for (const [path, content] of files) zip.addBuffer(Buffer.from(content), path, { mode: 0o100644 })
  zip.end()
  return buffer(zip.outputStream)
}

/** The same files with a manifest that fits them: somebody changed them and covered the traces. */
export function withManifest(
  files: Files,
  change: (manifest: Record<string, unknown>) => void = () => {},
): Files {
  const manifest = jsonOf(files, 'manifest.json')
  manifest.files = [...files]
    .filter(([path]) => path !== 'manifest.json')
    .map(([path, content]) => ({
      path,
      bytes: content.length,
      sha256: createHash('sha256').update(content).digest('hex'),
    }))
  change(manifest)
  return new Map(files).set('manifest.json', Buffer.from(JSON.stringify(manifest)))
}

// eslint-disable-next-line @typescript-eslint/no-explicit-any -- tests reach into it
export function jsonOf(files: Files, path: string): any {
  return JSON.parse(files.get(path)!.toString())
}

/** Sends an archive as a browser's form does. */
export async function importZip(app: App, zip: Uint8Array, cookie?: string) {
  const form = new FormData()
  form.set('file', new Blob([zip as BlobPart]), 'archive.zip')
  const request = new Request('http://localhost', { method: 'POST', body: form })
  return app.inject({
    method: 'POST',
    url: '/api/imports',
    headers: {
      'content-type': request.headers.get('content-type')!,
      host: hostOf(app),
      ...(cookie !== undefined && { cookie }),
    },
    payload: Buffer.from(await request.arrayBuffer()),
  })
}
