/** What the service worker does with a request. */
export type Policy =
  /** An address of the dashboard: the network's page, else the one kept on this device. */
  | 'page'
  /** A file of the dashboard: it carries its version in its name. */
  | 'asset'
  /** What is needed to record at home without a network: the network's answer, else the kept one. */
  | 'record'
  /** Deletes records, or ends who may read them: what is kept of them goes too. */
  | 'delete'
  /** Left to the browser, nothing kept. */
  | 'none'

const RECORDS = [/^\/api\/dogs$/, /^\/api\/dogs\/[^/]+$/, /^\/api\/dogs\/[^/]+\/(plans?|diary|dose|people)$/]

/** Over all sessions: answers for a span of days would pile up, one for every day they were asked for. */
const TRENDS = /^\/api\/dogs\/[^/]+\/trend(s|-settings)$/

/** By method, address and mode; everything that is not named here is left alone. */
export function policyOf(
  { method, url, mode }: Pick<Request, 'method' | 'url' | 'mode'>,
  origin: string,
  assets: readonly string[],
): Policy {
  const { origin: asked, pathname, searchParams } = new URL(url)
  if (asked !== origin) return 'none'
  if (method === 'DELETE' && /^\/api\/(dogs|sessions)\/[^/]+$/.test(pathname)) return 'delete'
  if (method === 'POST' && pathname === '/api/sign-out') return 'delete'
  if (method !== 'GET') return 'none'
  if (RECORDS.some((path) => path.test(pathname))) return 'record'
  if (pathname === '/api/sessions' && searchParams.has('dogId')) return 'record'
  if (TRENDS.test(pathname) && !searchParams.has('from') && !searchParams.has('to')) return 'record'
  if (pathname === '/api' || pathname.startsWith('/api/')) return 'none'
  if (mode === 'navigate') return 'page'
  return assets.includes(pathname) ? 'asset' : 'none'
}
