import type { App } from '#server/app'
import { call } from '../helpers/build-app.ts'

interface Document {
  paths: Record<string, { get?: { parameters?: { name: string; in: string; required?: boolean }[] } }>
}

/** What a query must have where a route asks for it. */
const QUERY: Readonly<Record<string, string>> = { timeZone: 'Europe/Berlin', measure: 'swayRms' }

/** The status of every GET route of the API by its description, with these ids in the address. */
export async function everyGet(
  app: App,
  ids: { dogId: string; sessionId: string },
): Promise<Record<string, number>> {
  const { paths } = (await call(app, { url: '/api/openapi.json' })).json<Document>()
  const status: Record<string, number> = {}
  for (const [path, { get }] of Object.entries(paths)) {
    if (!get || path.includes('/live/')) continue
    const known: Record<string, string> = { ...ids, index: '0' }
    const filled = path.replace(/\{(\w+)\}/g, (_, name: string) => known[name] ?? 'none')
    const query = (get.parameters ?? [])
      .filter(({ in: where, required }) => where === 'query' && required)
      .map(({ name }) => `${name}=${encodeURIComponent(QUERY[name] ?? '1')}`)
    const url = [filled, query.join('&')].filter(Boolean).join('?')
    status[url] = (await call(app, { url })).statusCode
  }
  return status
}
