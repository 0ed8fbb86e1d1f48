import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Me, MeChange, NewPassword, SignedInDevice } from '#protocol/people'
import { Id } from '#protocol/messages'
import { anyone, SIGNED_IN } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import { ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'
import { checkPassword } from '../people/password-rules.ts'
import { unlessTaken } from '../people/unless-taken.ts'
import { NothingSchema, PROBLEMS } from './schemas.ts'

/** The account of whoever asks. */
const me: FastifyPluginAsyncTypebox = async (app) => {
  const { people } = app.store

  app.get(
    '/api/me',
    {
      config: { access: anyone('says to a browser whether it is signed in') },
      schema: { response: { 200: Me, ...PROBLEMS } },
    },
    ({ visitor }) => app.signIns.me(visitor),
  )

  app.patch(
    '/api/me',
    {
      config: { access: SIGNED_IN },
      schema: { body: MeChange, response: { 200: Me, ...PROBLEMS } },
    },
    async ({ body, visitor, log }) => {
      await unlessTaken(people.rename(visitor.person!.id, body, authorOf(visitor)))
      tell(log, 'account.renamed', { by: visitor.person!.id })
      return app.signIns.me(visitor)
    },
  )

  app.put(
    '/api/me/password',
    {
      config: { access: SIGNED_IN },
      schema: {
        description:
          'Sets the password, with names on the way, and signs this browser in anew; all other sign-ins of the ' +
          'account end. `current` is left out while there is none.',
        body: NewPassword,
        response: { 200: Me, ...PROBLEMS },
      },
    },
    async (request, reply) => {
      const { visitor, body } = request
      const { id } = visitor.person!
      const person = (await people.person(id))!
      if (person.passwordHash !== null) await app.signIns.proveAgain(person, body.current, request)
      const { signInName = person.signInName, name = person.name, password } = body
      checkPassword(password, signInName)
      const passwordHash = await app.signIns.passwords.hash(password)
      await unlessTaken(people.setPassword(id, { passwordHash, signInName, name }, authorOf(visitor)))
      tell(request.log, 'password.changed', { by: id, address: request.ip })
      const signIn = await app.signIns.admit(request, reply, id)
      await app.openSockets.recheck()
      return app.signIns.me(visitor, signIn)
    },
  )

  app.get(
    '/api/me/sign-ins',
    {
      config: { access: SIGNED_IN },
      schema: {
        description: 'Where the account is signed in, newest first.',
        response: { 200: Type.Array(SignedInDevice), ...PROBLEMS },
      },
    },
    async ({ visitor }) => {
      const passes = await people.passes.ofPerson(visitor.person!.id)
      return passes.map(({ id, hash, createdAtMs, lastSeenAtMs, device }) => ({
        id,
        createdAt: new Date(createdAtMs).toISOString(),
        lastSeenAt: new Date(lastSeenAtMs).toISOString(),
        device,
        current: hash === visitor.credentials.signIn,
      }))
    },
  )

  app.delete(
    '/api/me/sign-ins',
    {
      config: { access: SIGNED_IN },
      schema: { description: 'Ends all but this one.', response: { 204: NothingSchema, ...PROBLEMS } },
    },
    async ({ visitor, log }, reply) => {
      await people.passes.removeOthers(visitor.person!.id, visitor.credentials.signIn ?? '')
      tell(log, 'sign-in.ended', { by: visitor.person!.id, which: 'all others' })
      await people.events.tell({ action: 'sign-ins.ended' }, authorOf(visitor))
      await app.openSockets.recheck()
      return reply.code(204).send(null)
    },
  )

  app.delete(
    '/api/me/sign-ins/:id',
    {
      config: { access: SIGNED_IN },
      schema: { params: Type.Object({ id: Id }), response: { 204: NothingSchema, ...PROBLEMS } },
    },
    async ({ params: { id }, visitor, log }, reply) => {
      if (!(await people.passes.removeOne(visitor.person!.id, id))) {
        throw new ServerError('SIGN_IN_NOT_FOUND', { id })
      }
      tell(log, 'sign-in.ended', { by: visitor.person!.id, which: 'one' })
      await people.events.tell({ action: 'sign-ins.ended' }, authorOf(visitor))
      await app.openSockets.recheck()
      return reply.code(204).send(null)
    },
  )
}
export default me
