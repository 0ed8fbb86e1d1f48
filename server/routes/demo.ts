import type { AddressInfo } from 'node:net'
import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Dog } from '#protocol/resources'
import { KEEPER } from '../access/rules.ts'
import type { Config } from '../config.ts'
import { Demo } from '../demo/demo.ts'
import { PassOfDemo } from '../people/pass-of-demo.ts'
import { ServerError } from '../errors.ts'
import { PROBLEMS } from './schemas.ts'

/**
 * Starts the demo; it talks to this server like any other client, so the server must be listening. Only where nobody
 * else gets in: an invented dog has no place among the dogs of people.
 */
const demoRoutes: FastifyPluginAsyncTypebox<{ config: Config }> = async (app, { config }) => {
  let demo: Demo | null = null
  let keeperId = ''
  // Before the sockets close, so that the harness does not try to come back.
  app.addHook('preClose', async () => demo?.stop())

  app.post(
    '/api/demo',
    {
      config: { access: KEEPER },
      schema: {
        description:
          'Makes the invented demo dog with sixteen weeks of sessions and a harness recording live.',
        response: { 202: Dog, ...PROBLEMS },
      },
    },
    async ({ visitor }, reply) => {
      if (!app.server.listening || config.exposure !== 'this computer')
        throw new ServerError('DEMO_UNAVAILABLE')
      keeperId = visitor.person!.id
      const { address, port, family } = app.server.address() as AddressInfo
      demo ??= new Demo(
        `http://${family === 'IPv6' ? `[${address}]` : address}:${port}`,
        app.log,
        new PassOfDemo(app, () => keeperId),
      )
      return reply.code(202).send(await demo.start())
    },
  )
}
export default demoRoutes
