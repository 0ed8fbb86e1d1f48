import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import {
  answerAsset,
  answerPage,
  answerRecord,
  FROM_DEVICE_HEADER,
} from '../../dashboard/service-worker/answers.ts'
import { policyOf } from '../../dashboard/service-worker/request-policy.ts'

const ORIGIN = 'http://127.0.0.1:4173'
const ASSETS = ['/', '/mark.svg', '/assets/main-a.js']

describe('what the service worker does with a request', () => {
  const policy = (method: string, path: string, mode: RequestMode = 'cors', origin = ORIGIN) =>
    policyOf({ method, url: origin + path, mode }, ORIGIN, ASSETS)

  test.each([
    ['GET', '/dogs/x', 'navigate', 'page'],
    ['GET', '/', 'navigate', 'page'],
    ['GET', '/assets/main-a.js', 'cors', 'asset'],
    ['GET', '/mark.svg', 'no-cors', 'asset'],
    ['GET', '/assets/other.js', 'cors', 'none'],
    ['GET', '/api/dogs', 'cors', 'record'],
    ['GET', '/api/dogs/x', 'cors', 'record'],
    ['GET', '/api/dogs/x/plan', 'cors', 'record'],
    ['GET', '/api/dogs/x/plans', 'cors', 'record'],
    ['GET', '/api/dogs/x/diary', 'cors', 'record'],
    ['GET', '/api/dogs/x/dose?timeZone=UTC&weeks=8', 'cors', 'record'],
    ['GET', '/api/dogs/x/diary/e', 'cors', 'none'],
    ['GET', '/api/dogs/x/planets', 'cors', 'none'],
    ['GET', '/api/sessions?dogId=x&limit=500', 'cors', 'record'],
    ['GET', '/api/dogs/x/trends?measure=jerk', 'cors', 'record'],
    ['GET', '/api/dogs/x/trends?measure=jerk&from=2026-01-01', 'cors', 'none'],
    ['GET', '/api/dogs/x/trends.csv?measure=jerk', 'cors', 'none'],
    ['GET', '/api/dogs/x/trend-settings', 'cors', 'record'],
    ['GET', '/api/sessions', 'cors', 'none'],
    ['GET', '/api/sessions/x', 'cors', 'none'],
    ['GET', '/api/sessions/x/report', 'cors', 'none'],
    ['GET', '/api/sessions/x/trace.csv', 'navigate', 'none'],
    ['POST', '/api/dogs', 'cors', 'none'],
    ['POST', '/api/sessions', 'cors', 'none'],
    ['POST', '/api/sign-in', 'cors', 'none'],
    ['POST', '/api/sign-out', 'cors', 'delete'],
    ['GET', '/api/me', 'cors', 'none'],
    ['GET', '/api/people', 'cors', 'none'],
    ['GET', '/api/dogs/x/people', 'cors', 'record'],
    ['GET', '/api/dogs/x/shares', 'cors', 'none'],
    ['GET', '/api/shared/report', 'cors', 'none'],
    ['DELETE', '/api/dogs/x', 'cors', 'delete'],
    ['DELETE', '/api/sessions/x', 'cors', 'delete'],
  ] as const)('%s %s (%s): %s', (method, path, mode, expected) => {
    expect(policy(method, path, mode)).toBe(expected)
  })

  test('another origin is none of its business', () => {
    expect(policy('GET', '/api/dogs', 'cors', 'http://elsewhere.test')).toBe('none')
  })
})

/** Caches as a map by address; the part of CacheStorage that is used. */
function fakeCaches() {
  const kept = new Map<string, Response>()
  const key = (request: RequestInfo | URL) =>
    new URL(request instanceof Request ? request.url : request, ORIGIN).href
  const cache = {
    match: async (request: RequestInfo) => kept.get(key(request))?.clone(),
    put: async (request: RequestInfo, response: Response) => void kept.set(key(request), response),
    delete: async (request: RequestInfo) => kept.delete(key(request)),
  }
  const caches = { open: async () => cache, match: cache.match } as unknown as CacheStorage
  return { kept, caches }
}

const NOW = new Date('2026-11-25T10:02:00Z')
const DOGS = new Request(`${ORIGIN}/api/dogs`)
const gone = async () => {
  throw new TypeError('Failed to fetch')
}
const never = () => new Promise<Response>(() => {})

describe('records', () => {
  const answers = async (fetch: () => Promise<Response>, kept = fakeCaches()) => {
    const keeping = {
      fetch: fetch as typeof globalThis.fetch,
      caches: kept.caches,
      now: () => NOW,
      deletions: () => 0,
    }
    return { kept, response: await answerRecord(DOGS, 'records', keeping) }
  }

  test('come from the network and say nothing of this device', async () => {
    const { response } = await answers(async () => Response.json([{ id: 'x' }]))
    expect(await response.json()).toEqual([{ id: 'x' }])
    expect(response.headers.get(FROM_DEVICE_HEADER)).toBeNull()
  })

  test('come from this device, with the time they were given, when the network is gone', async () => {
    const { kept } = await answers(async () => Response.json([{ id: 'x' }]))
    const { response } = await answers(gone, kept)
    expect(await response.json()).toEqual([{ id: 'x' }])
    expect(response.headers.get(FROM_DEVICE_HEADER)).toBe(NOW.toISOString())
  })

  test('that were never kept fail as the network does', async () => {
    await expect(answers(gone)).rejects.toThrow('Failed to fetch')
  })

  test('a fault of the server is passed on and not kept, nor does it hide', async () => {
    const { kept } = await answers(async () => Response.json([{ id: 'x' }]))
    const { response } = await answers(async () => new Response('', { status: 500 }), kept)
    expect(response.status).toBe(500)
    expect(kept.kept.size).toBe(1)
  })

  test.each([404, 403])(
    'what the server does not have or give any more (%i) is forgotten',
    async (status) => {
      const { kept } = await answers(async () => Response.json([{ id: 'x' }]))
      await answers(async () => new Response('', { status }), kept)
      expect(kept.kept.size).toBe(0)
    },
  )

  test('a sign-in that ended forgets nothing: it is needed without a network', async () => {
    const { kept } = await answers(async () => Response.json([{ id: 'x' }]))
    await answers(async () => new Response('', { status: 401 }), kept)
    expect(kept.kept.size).toBe(1)
  })

  test('an answer that was asked for before records were deleted is not kept after it', async () => {
    const { kept, caches } = fakeCaches()
    let deletions = 0
    const fetch = async () => {
      deletions++
      return Response.json([{ id: 'deleted meanwhile' }])
    }
    const keeping = { fetch, caches, now: () => NOW, deletions: () => deletions }
    await answerRecord(DOGS, 'records', keeping)
    expect(kept.size).toBe(0)
  })
})

describe('a network that does not answer', () => {
  beforeEach(() => void vi.useFakeTimers())
  afterEach(() => void vi.useRealTimers())

  test('gives way to what is kept', async () => {
    const { kept, caches } = fakeCaches()
    kept.set(`${ORIGIN}/`, new Response('the page'))
    kept.set(DOGS.url, Response.json([]))
    const keeping = { fetch: never as typeof fetch, caches, now: () => NOW, deletions: () => 0 }
    const page = answerPage(new Request(`${ORIGIN}/dogs/x`), keeping)
    const record = answerRecord(DOGS, 'records', keeping)
    await vi.advanceTimersByTimeAsync(10_000)
    expect(await (await page).text()).toBe('the page')
    expect(await (await record).json()).toEqual([])
  })
})

describe('files of the dashboard', () => {
  test('come from this device without asking the network', async () => {
    const { kept, caches } = fakeCaches()
    kept.set(`${ORIGIN}/assets/main-a.js`, new Response('kept'))
    const request = new Request(`${ORIGIN}/assets/main-a.js`)
    const response = await answerAsset(request, {
      fetch: never as typeof fetch,
      caches,
      now: () => NOW,
      deletions: () => 0,
    })
    expect(await response.text()).toBe('kept')
  })
})
