import type { App } from '#server/app'
import { hostOf } from './build-app.ts'

/** Sends a trace as a browser's form does. */
export async function upload(
  app: App,
  dogId: string,
  content: string | Uint8Array,
  fields: Record<string, string> = {},
  file = 'trace.csv',
) {
  const form = new FormData()
  for (const [name, value] of Object.entries(fields)) form.set(name, value)
  form.set('file', new Blob([content as BlobPart]), file)
  const request = new Request('http://localhost', { method: 'POST', body: form })
  return app.inject({
    method: 'POST',
    url: `/api/dogs/${dogId}/traces`,
    headers: { 'content-type': request.headers.get('content-type')!, host: hostOf(app) },
    payload: Buffer.from(await request.arrayBuffer()),
  })
}
