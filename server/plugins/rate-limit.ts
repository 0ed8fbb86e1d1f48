import rateLimit from '@fastify/rate-limit'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import { shared } from './shared.ts'

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
})
