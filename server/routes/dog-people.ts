import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import { DogPerson, RoleChange } from '#protocol/people'
import { forDog } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import { ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'
import type { RoleOutcome } from '../store/people/roles.ts'
import { DogParams, NothingSchema, PROBLEMS } from './schemas.ts'

const url = '/api/dogs/:dogId/people'
const DogPersonParams = Type.Object({ ...DogParams.properties, personId: Id })

/** Who has which role with a dog. */
const dogPeople: FastifyPluginAsyncTypebox = async (app) => {
  const { roles } = app.store.people

  app.get(
    url,
    {
      config: { access: forDog('viewer') },
      schema: {
        description: 'Owners first; sign-in names for owners of the dog only.',
        params: DogParams,
        response: { 200: Type.Array(DogPerson), ...PROBLEMS },
      },
    },
    async ({ params: { dogId }, visitor }) => {
      const isOwner = (await roles.role(visitor.person!.id, dogId)) === 'owner'
      return (await roles.ofDog(dogId)).map(({ personId, name, signInName, role, since }) => ({
        personId,
        name,
        ...(isOwner && { signInName }),
        role,
        since,
      }))
    },
  )

  app.put(
    `${url}/:personId`,
    {
      config: { access: forDog('owner') },
      schema: {
        description: 'Another role for somebody who has one; an invitation brings somebody new.',
        params: DogPersonParams,
        body: RoleChange,
        response: { 204: NothingSchema, ...PROBLEMS },
      },
    },
    async ({ params: { dogId, personId }, body: { role }, visitor, log }, reply) => {
      requireDone(await roles.change(dogId, personId, role, authorOf(visitor)), personId)
      tell(log, 'role.changed', { by: visitor.person!.id, person: personId, dogId, role })
      await app.openSockets.recheck()
      return reply.code(204).send(null)
    },
  )

  app.delete(
    `${url}/:personId`,
    {
      config: { access: forDog('viewer') },
      schema: {
        description: 'An owner takes a role away; everybody may give up their own.',
        params: DogPersonParams,
        response: { 204: NothingSchema, ...PROBLEMS },
      },
    },
    async ({ params: { dogId, personId }, visitor, log }, reply) => {
      if (personId !== visitor.person!.id) {
        const missing = () => new ServerError('DOG_NOT_FOUND', { dogId })
        await app.permissions.requireRole(visitor, dogId, 'owner', missing)
      }
      requireDone(await roles.remove(dogId, personId, authorOf(visitor)), personId)
      tell(log, 'role.removed', { by: visitor.person!.id, person: personId, dogId })
      await app.openSockets.recheck()
      return reply.code(204).send(null)
    },
  )
}
export default dogPeople

function requireDone(outcome: RoleOutcome, personId: string): void {
  if (outcome === 'missing') throw new ServerError('PERSON_NOT_FOUND', { personId })
  if (outcome === 'last owner') throw new ServerError('LAST_OWNER')
}
