import rateLimit from '@fastify/rate-limit'
import type { Config, Limits } from '../config.ts'
import type { FastifyRequest } from 'fastify'
import { ServerError } from '../errors.ts'
import { whoAsks } from '../routes/who-asks.ts'
import { shared } from './shared.ts'

declare module 'fastify' {
  interface FastifyInstance {
    /** Counts a request for an address nothing lies at; throws when its client asked for too many. */
    countUnknown(request: FastifyRequest): Promise<void>
    /** Bounds of whoever asks, asked as soon as that is known: each throws beyond its own. */
    visitorBounds: ((request: FastifyRequest) => Promise<void>)[]
  }
  interface FastifyContextConfig {
    /** Requests a minute of one who asks, where it is not `limits.requestsPerMinute`. */
    eachPerMinute?: number
  }
}

const timeWindow = '1 minute'

/** So many a minute for each who asks, and a multiple of it for all people behind one address. */
export function eachAndAddress(max: number, { peoplePerAddress }: Limits) {
  return { eachPerMinute: max, rateLimit: { max: max * peoplePerAddress, timeWindow } }
}

/**
 * Bounds on calls of the API, so that a runaway script cannot keep anybody's screen from being served: per person,
 * share link or paired phone, wherever it calls from, so that those behind one address do not starve each other; and
 * per address, for those who are nobody, and for all of it together before anybody is looked up. The files of the
 * dashboard are not counted: they cost little, and without one a screen is not whole.
 */
export default shared<{ config: Config }>('rate-limit', async (app, { config: { limits } }) => {
  const tooMany = (ttlMs: number) => {
    const seconds = Math.ceil(ttlMs / 1000)
    return new ServerError('TOO_MANY_REQUESTS', { seconds }, { retryAfterS: seconds })
  }
  await app.register(rateLimit, {
    max: limits.requestsPerMinute * limits.peoplePerAddress,
    timeWindow,
    allowList: ({ url }) => !url.startsWith('/api/'),
    errorResponseBuilder: (_request, { ttl }) => tooMany(ttl),
  })
  const each = app.createRateLimit({
    max: ({ routeOptions: { config } }: FastifyRequest) => config.eachPerMinute ?? limits.requestsPerMinute,
    // Routes with a bound of their own are counted apart.
    keyGenerator: (request: FastifyRequest) => {
      const { config, url } = request.routeOptions
      return `${whoAsks(request)} ${config.eachPerMinute === undefined ? '' : url}`
    },
    timeWindow,
    allowList: [],
  })
  const bound = (limiter: typeof each) => async (request: FastifyRequest) => {
    const counted = await limiter(request)
    if (!counted.isAllowed && counted.isExceeded) throw tooMany(counted.ttl)
  }
  app.decorate('visitorBounds', [bound(each)])
  const unknown = app.createRateLimit({ max: limits.unknownPerMinute, timeWindow, allowList: [] })
  app.decorate('countUnknown', bound(unknown))
})
