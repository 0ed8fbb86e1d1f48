import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import { Room } from '../room.ts'
import { whoAsks } from '../routes/who-asks.ts'
import { eachAndAddress } from './rate-limit.ts'
import { shared } from './shared.ts'

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Set here: the route makes a file of much that is stored. */
    makesFile?: boolean
  }
}

/** Routes that read all samples of something, or everything of a dog, to answer once. */
const MAKES_FILE = /\/(export\.zip|fhir\.json|[a-z]+\.csv|[a-z]+\.edf)$/

/**
 * Files for downloads cost most of what can be asked for: so many a minute, so many at once, half of them for one
 * client. Must be registered before the rate limit, which reads what is set here.
 */
export default shared<{ config: Config }>('file-downloads', async (app, { config: { limits } }) => {
  const room = new Room(limits.exportsAtOnce, limits.exportsAtOnce / 2)

  app.addHook('onRoute', (route) => {
    if (!MAKES_FILE.test(route.url)) return
    route.config = { ...eachAndAddress(limits.exportsPerMinute, limits), ...route.config, makesFile: true }
  })

  app.addHook('preHandler', async (request, reply) => {
    if (!request.routeOptions.config.makesFile) return
    const leave = room.take(whoAsks(request), 1)
    if (!leave) throw new ServerError('TOO_MUCH_AT_ONCE')
    // Sent, or given up by the client.
    reply.raw.once('close', leave).once('finish', leave)
  })
})
