import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import { Person, PersonChange, ResetLink, SecurityEventPage } from '#protocol/people'
import { hashOf, newSecret } from '../access/cookies.ts'
import { KEEPER } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import { ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'
import type { PersonRecord } from '../store/people/people.ts'
import { LINK_MS } from './invitations.ts'
import { newId } from './ids.ts'
import { NothingSchema, PROBLEMS } from './schemas.ts'

const PersonParams = Type.Object({ personId: Id })
const DEFAULT_PAGE = 50
const MAX_PAGE = 500

/** The people of this installation, for the one who looks after it. */
const peopleRoutes: FastifyPluginAsyncTypebox = async (app) => {
  const { people } = app.store

  const shown = async (record: PersonRecord): Promise<Person> => ({
    id: record.id,
    name: record.name,
    signInName: record.signInName,
    keeper: record.keeper,
    lockedAt: record.lockedAt,
    lastSeenAt: record.lastSeenAt,
    dogs: (await people.roles.dogsOfPeople()).get(record.id) ?? [],
  })
  const found = async (personId: string) => {
    const person = await people.person(personId)
    if (!person) throw new ServerError('PERSON_NOT_FOUND', { personId })
    return person
  }

  app.get(
    '/api/people',
    { config: { access: KEEPER }, schema: { response: { 200: Type.Array(Person), ...PROBLEMS } } },
    async () => Promise.all((await people.all()).map(shown)),
  )

  app.patch(
    '/api/people/:personId',
    {
      config: { access: KEEPER },
      schema: {
        description: 'Locks an account, which ends its sign-ins, or unlocks it.',
        params: PersonParams,
        body: PersonChange,
        response: { 200: Person, ...PROBLEMS },
      },
    },
    async ({ params: { personId }, body: { locked }, visitor, log }) => {
      const { id } = await found(personId)
      if (locked !== undefined) {
        if (id === visitor.person!.id) throw new ServerError('NOT_ONESELF')
        await people.setLocked(id, locked, authorOf(visitor))
        tell(log, locked ? 'account.locked' : 'account.unlocked', { by: visitor.person!.id, person: id })
        await app.openSockets.recheck()
      }
      return shown(await found(personId))
    },
  )

  app.delete(
    '/api/people/:personId',
    {
      config: { access: KEEPER },
      schema: { params: PersonParams, response: { 204: NothingSchema, ...PROBLEMS } },
    },
    async ({ params: { personId }, visitor, log }, reply) => {
      if (personId === visitor.person!.id) throw new ServerError('NOT_ONESELF')
      const outcome = await people.remove(personId, authorOf(visitor))
      if (outcome === 'missing') throw new ServerError('PERSON_NOT_FOUND', { personId })
      if (outcome === 'last owner') throw new ServerError('LAST_OWNER')
      tell(log, 'account.removed', { by: visitor.person!.id, person: personId })
      await app.openSockets.recheck()
      return reply.code(204).send(null)
    },
  )

  app.post(
    '/api/people/:personId/reset-link',
    {
      config: { access: KEEPER },
      schema: {
        description: 'A link that sets a new password, once, within a day; an earlier one no longer works.',
        params: PersonParams,
        response: { 201: ResetLink, ...PROBLEMS },
      },
    },
    async ({ params: { personId }, visitor, log }, reply) => {
      const secret = newSecret()
      const expiresAt = new Date(Date.now() + LINK_MS.reset).toISOString()
      const link = { id: newId(), personId, secretHash: hashOf(secret), expiresAt }
      if (!(await people.invitations.addReset(link, authorOf(visitor)))) {
        throw new ServerError('PERSON_NOT_FOUND', { personId })
      }
      tell(log, 'reset-link.made', { by: visitor.person!.id, person: personId })
      return reply.code(201).send({ secret, expiresAt })
    },
  )

  app.get(
    '/api/audit',
    {
      config: { access: KEEPER },
      schema: {
        description:
          'The trail of the installation, newest first: sign-ins and failures, locks, roles, invitations and ' +
          'shares. Of a dog only its id.',
        querystring: Type.Object({
          limit: Type.Optional(Type.Integer({ minimum: 1, maximum: MAX_PAGE })),
          cursor: Type.Optional(Type.String({ pattern: '^[0-9]{1,15}$' })),
        }),
        response: { 200: SecurityEventPage, ...PROBLEMS },
      },
    },
    ({ query: { limit = DEFAULT_PAGE, cursor } }) => people.events.page({ limit, cursor }),
  )
}
export default peopleRoutes
