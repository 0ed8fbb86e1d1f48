import swagger from '@fastify/swagger'
import { shared } from './shared.ts'

/** Collects the schemas of every route registered after it into an OpenAPI 3.1 document. */
export default shared('openapi', async (app) => {
  await app.register(swagger, {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'Swaybook',
        version: '0.1.0',
        description:
          'Dogs, sessions and what was measured in them. Live samples travel over the WebSockets ' +
          '/api/live/send and /api/live/watch (server/protocol).',
      },
    },
  })
})
