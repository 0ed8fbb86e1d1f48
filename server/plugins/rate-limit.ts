import rateLimit from '@fastify/rate-limit'
import type { Config } from '../config.ts'
import type { FastifyRequest } from 'fastify'
import { ServerError } from '../errors.ts'
import { shared } from './shared.ts'

declare module 'fastify' {
  interface FastifyInstance {
    /** Counts a request for an address nothing lies at; throws when its client asked for too many. */
    countUnknown(request: FastifyRequest): Promise<void>
  }
}

/**
 * A bound per address on calls of the API, so that a runaway script cannot keep the owner's own screen from being
 * served. The files of the dashboard are not counted: they cost little, and without one a screen is not whole.
 */
export default shared<{ config: Config }>('rate-limit', async (app, { config }) => {
  await app.register(rateLimit, {
    max: config.limits.requestsPerMinute,
    timeWindow: '1 minute',
    allowList: ({ url }) => !url.startsWith('/api/'),
    errorResponseBuilder: (_request, { ttl }) =>
      new ServerError('TOO_MANY_REQUESTS', { seconds: Math.ceil(ttl / 1000) }),
  })
  const unknown = app.createRateLimit({
    max: config.limits.unknownPerMinute,
    timeWindow: '1 minute',
    allowList: [],
  })
  app.decorate('countUnknown', async (request: FastifyRequest) => {
    const counted = await unknown(request)
    if (counted.isAllowed || !counted.isExceeded) return
    throw new ServerError('TOO_MANY_REQUESTS', { seconds: Math.ceil(counted.ttl / 1000) })
  })
})
