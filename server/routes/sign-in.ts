import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Me, SignIn } from '#protocol/people'
import { anyone, SIGNED_IN } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import type { Config } from '../config.ts'
import { tell } from '../log/tell.ts'
import { NothingSchema, PROBLEMS } from './schemas.ts'

/** Coming in and going out. */
const signIn: FastifyPluginAsyncTypebox<{ config: Config }> = async (app, { config: { limits } }) => {
  const { people } = app.store

  app.post(
    '/api/sign-in',
    {
      config: {
        access: anyone('nobody is known before'),
        rateLimit: { max: limits.signInsPerMinute, timeWindow: '1 minute' },
      },
      schema: {
        description:
          'Sets the cookie swaybook_sign_in. One answer whatever was wrong; CODE_NEEDED when only the second ' +
          'factor is missing. After five failures with a name it has to wait, a minute first.',
        body: SignIn,
        response: { 200: Me, ...PROBLEMS },
      },
    },
    async (request, reply) => {
      const { signInName, password, code } = request.body
      const { id, name } = await app.signIns.prove(signInName, password, code, request)
      const signIn = await app.signIns.admit(request, reply, id)
      await people.events.tell({ action: 'sign-in.done' }, { name, personId: id })
      tell(request.log, 'sign-in.done', { by: id, address: request.ip, secondFactor: code !== undefined })
      await people.passes.touch(signIn, Date.now())
      return app.signIns.me(request.visitor, signIn)
    },
  )

  app.post(
    '/api/sign-out',
    {
      config: { access: SIGNED_IN },
      schema: {
        description:
          'Ends the sign-in, and what this browser had open by a share link. A phone that was paired goes on: it may ' +
          'have samples that are nowhere else.',
        response: { 204: NothingSchema, ...PROBLEMS },
      },
    },
    async ({ visitor, log, ip }, reply) => {
      const { signIn, share } = visitor.credentials
      if (signIn !== null) {
        await people.passes.remove(signIn)
        await people.events.tell({ action: 'sign-out' }, authorOf(visitor))
        tell(log, 'sign-out', { by: visitor.person!.id, address: ip })
      }
      if (share !== null) await people.passes.remove(share)
      app.cookies.clear(reply, 'swaybook_sign_in')
      app.cookies.clear(reply, 'swaybook_share')
      // Pages and files in the browser's cache, and those it keeps to go back to. Not "storage": recordings that are on
      // their way lie there and nowhere else. What the page keeps of dogs it takes away itself.
      void reply.header('clear-site-data', '"cache"')
      await app.openSockets.recheck()
      return reply.code(204).send(null)
    },
  )
}
export default signIn
