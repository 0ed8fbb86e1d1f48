import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Dog, DogChange, NewDog } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { THIS_COMPUTER } from '../author.ts'
import { newId } from './ids.ts'
import { etagOf, IfMatch, precondition, recordOf, withEtag } from './preconditions.ts'
import { withSaidText } from './said-text.ts'
import { DogParams, NothingSchema, PROBLEMS } from './schemas.ts'

const dogs: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  app.get('/api/dogs', { schema: { response: { 200: Type.Array(Dog), ...PROBLEMS } } }, () => records.dogs())

  app.post(
    '/api/dogs',
    { schema: { body: NewDog, response: { 201: withEtag(Dog), ...PROBLEMS } } },
    async (request, reply) => {
      const id = newId()
      await records.addDog({ ...withSaidText(request.body, 'breed', 'notes'), id }, THIS_COMPUTER)
      const dog = (await records.dog(id))!
      return reply.code(201).header('etag', etagOf(dog.version)).send(dog)
    },
  )

  app.get(
    '/api/dogs/:dogId',
    { schema: { params: DogParams, response: { 200: withEtag(Dog), ...PROBLEMS } } },
    async ({ params: { dogId } }, reply) => {
      const dog = await records.dog(dogId)
      if (!dog) throw new ServerError('DOG_NOT_FOUND', { dogId })
      return reply.header('etag', etagOf(dog.version)).send(dog)
    },
  )

  app.patch(
    '/api/dogs/:dogId',
    {
      schema: {
        description:
          'Changes the fields that are sent; null clears one. What is said already changes nothing.',
        params: DogParams,
        headers: IfMatch,
        body: DogChange,
        response: { 200: withEtag(Dog), ...PROBLEMS },
      },
    },
    async ({ params: { dogId }, headers, body }, reply) => {
      const changed = await records.changeDog(
        dogId,
        withSaidText(body, 'breed', 'notes'),
        precondition(headers),
        THIS_COMPUTER,
      )
      const missing = () => new ServerError('DOG_NOT_FOUND', { dogId })
      return recordOf(changed, reply, { missing, versionOf: ({ version }) => version })
    },
  )

  app.delete(
    '/api/dogs/:dogId',
    {
      schema: {
        description: 'Removes the dog and everything recorded of it, for good.',
        params: DogParams,
        response: { 204: NothingSchema, ...PROBLEMS },
      },
    },
    async ({ params: { dogId } }, reply) => {
      const sessions = await records.sessionIds(dogId)
      if (!(await records.deleteDog(dogId))) throw new ServerError('DOG_NOT_FOUND', { dogId })
      for (const sessionId of sessions) await app.ingest.drop(sessionId)
      return reply.code(204).send(null)
    },
  )
}
export default dogs
