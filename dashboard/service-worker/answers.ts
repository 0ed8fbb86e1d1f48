/** On an answer that comes from this device: when the server gave it, ISO 8601. */
export const FROM_DEVICE_HEADER = 'x-swaybook-from-device'

/** A network that takes longer is taken to be gone, when there is something kept to show instead. */
const PAGE_WITHIN_MS = 4000
const RECORD_WITHIN_MS = 8000

export interface Keeping {
  readonly fetch: typeof fetch
  readonly caches: CacheStorage
  readonly now: () => Date
  /** How often records were deleted: what was asked before is not kept afterwards. */
  readonly deletions: () => number
}

/** The page from the network, else the one kept at installation. */
export async function answerPage(request: Request, { fetch, caches }: Keeping): Promise<Response> {
  const kept = () => caches.match('/')
  try {
    return await withinOr(fetch(request), PAGE_WITHIN_MS, kept)
  } catch (error) {
    const page = await kept()
    if (page) return page
    throw error
  }
}

/** The file kept at installation, in this version or the one before, else that of the network. */
export async function answerAsset(request: Request, { fetch, caches }: Keeping): Promise<Response> {
  return (await caches.match(request)) ?? fetch(request)
}

/**
 * The server's answer, kept for the time without one. A kept answer says in a header when it was
 * given; one that the server no longer has (404), or no longer gives (403), is forgotten.
 */
export async function answerRecord(request: Request, cacheName: string, keeping: Keeping): Promise<Response> {
  const { fetch, caches, now, deletions } = keeping
  const deletedBefore = deletions()
  const cache = await caches.open(cacheName)
  const kept = () => cache.match(request.url)
  const asked = fetch(request).then(async (response) => {
    if (response.ok) {
      const headers = new Headers(response.headers)
      headers.set(FROM_DEVICE_HEADER, now().toISOString())
      const copy = new Response(await response.clone().arrayBuffer(), { headers })
      if (deletions() === deletedBefore) await cache.put(request.url, copy)
    } else if (response.status === 404 || response.status === 403) {
      await cache.delete(request.url)
    }
    return response
  })
  try {
    return await withinOr(asked, RECORD_WITHIN_MS, kept)
  } catch (error) {
    const copy = await kept()
    if (copy) return copy
    throw error
  }
}

/** The first answer, unless it takes too long and there is another to give. */
async function withinOr(
  answer: Promise<Response>,
  ms: number,
  other: () => Promise<Response | undefined>,
): Promise<Response> {
  let timer: ReturnType<typeof setTimeout> | undefined
  const late = new Promise<null>((resolve) => (timer = setTimeout(() => resolve(null), ms)))
  try {
    return (await Promise.race([answer, late])) ?? (await other()) ?? (await answer)
  } finally {
    clearTimeout(timer)
  }
}
