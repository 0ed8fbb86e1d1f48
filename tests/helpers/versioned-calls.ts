import type { App } from '#server/app'
import { addDog, addLiveSession, call } from './build-app.ts'

type Method = 'POST' | 'PUT' | 'PATCH' | 'DELETE'

/** A change that names the version it was made from; null for "nothing there yet". */
export function change(
  app: App,
  method: Method,
  url: string,
  version: number | '*' | null,
  payload?: object,
) {
  const headers: Record<string, string> =
    version === null ? { 'if-none-match': '*' } : { 'if-match': version === '*' ? '*' : `"${version}"` }
  return call(app, { method, url, headers, ...(payload && { payload }) })
}

export async function json<T>(app: App, url: string): Promise<T> {
  return (await call(app, { url })).json<T>()
}

/** A dog with a session that ended without samples: a record that can be changed without being measured. */
export async function dogWithSession(app: App): Promise<{ dogId: string; sessionId: string }> {
  const dogId = await addDog(app)
  const sessionId = await addLiveSession(app, dogId)
  await call(app, { method: 'POST', url: `/api/sessions/${sessionId}/finish` })
  return { dogId, sessionId }
}
