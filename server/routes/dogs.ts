import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Dog, DogChange, NewDog } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'
import { forDog, SIGNED_IN } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import { newId } from './ids.ts'
import { etagOf, IfMatch, precondition, recordOf, withEtag } from './preconditions.ts'
import { withSaidText } from './said-text.ts'
import { DogParams, NothingSchema, PROBLEMS } from './schemas.ts'

const dogs: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  app.get(
    '/api/dogs',
    { config: { access: SIGNED_IN }, schema: { response: { 200: Type.Array(Dog), ...PROBLEMS } } },
    ({ visitor }) => records.dogs(visitor.person!.id),
  )

  app.post(
    '/api/dogs',
    {
      config: { access: SIGNED_IN },
      schema: { body: NewDog, response: { 201: withEtag(Dog), ...PROBLEMS } },
    },
    async (request, reply) => {
      const id = newId()
      await records.addDog({ ...withSaidText(request.body, 'breed', 'notes'), id }, authorOf(request.visitor))
      const dog = (await records.dog(id))!
      return reply.code(201).header('etag', etagOf(dog.version)).send(dog)
    },
  )

  app.get(
    '/api/dogs/:dogId',
    {
      config: { access: forDog('viewer') },
      schema: { params: DogParams, response: { 200: withEtag(Dog), ...PROBLEMS } },
    },
    async ({ params: { dogId } }, reply) => {
      const dog = await records.dog(dogId)
      if (!dog) throw new ServerError('DOG_NOT_FOUND', { dogId })
      return reply.header('etag', etagOf(dog.version)).send(dog)
    },
  )

  app.patch(
    '/api/dogs/:dogId',
    {
      config: { access: forDog('owner') },
      schema: {
        description:
          'Changes the fields that are sent; null clears one. What is said already changes nothing.',
        params: DogParams,
        headers: IfMatch,
        body: DogChange,
        response: { 200: withEtag(Dog), ...PROBLEMS },
      },
    },
    async ({ params: { dogId }, headers, body, visitor }, reply) => {
      const changed = await records.changeDog(
        dogId,
        withSaidText(body, 'breed', 'notes'),
        precondition(headers),
        authorOf(visitor),
      )
      const missing = () => new ServerError('DOG_NOT_FOUND', { dogId })
      return recordOf(changed, reply, { missing, versionOf: ({ version }) => version })
    },
  )

  app.delete(
    '/api/dogs/:dogId',
    {
      config: { access: forDog('owner') },
      schema: {
        description: 'Removes the dog and everything recorded of it, for good.',
        params: DogParams,
        response: { 204: NothingSchema, ...PROBLEMS },
      },
    },
    async ({ params: { dogId }, visitor, log }, reply) => {
      const sessions = await records.sessionIds(dogId)
      if (!(await records.deleteDog(dogId, authorOf(visitor))))
        throw new ServerError('DOG_NOT_FOUND', { dogId })
      tell(log, 'dog.deleted', { by: visitor.person!.id })
      for (const sessionId of sessions) await app.ingest.drop(sessionId)
      await app.openSockets.recheck()
      return reply.code(204).send(null)
    },
  )
}
export default dogs
