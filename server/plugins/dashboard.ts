import { existsSync } from 'node:fs'
import { sep } from 'node:path'
import fastifyStatic from '@fastify/static'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import { shared } from './shared.ts'
import { tell } from '../log/tell.ts'

/** Serves the built dashboard; its own addresses (/dogs/…) all lead to index.html. */
export default shared<{ config: Config }>('dashboard', async (app, { config }) => {
  const built = existsSync(config.dashboardDir)
  if (built) {
    await app.register(fastifyStatic, {
      root: config.dashboardDir,
      wildcard: false,
      cacheControl: false,
      setHeaders: (response, path) => {
        // Vite puts a content hash into the names under assets/: such a file never changes.
        const hashed = path.includes(`${sep}assets${sep}`)
        response.setHeader('cache-control', hashed ? 'public, max-age=31536000, immutable' : 'no-cache')
      },
    })
  } else {
    tell(app.log, 'dashboard.missing', { dir: config.dashboardDir })
  }

  app.setNotFoundHandler(async (request, reply) => {
    const path = request.url.split('?')[0]
    const page = request.method === 'GET' && !path.startsWith('/api/') && path !== '/api'
    if (built && page && request.headers.accept?.includes('text/html')) return reply.sendFile('index.html')
    await app.countUnknown(request)
    throw new ServerError('NOT_FOUND', { path })
  })
})
