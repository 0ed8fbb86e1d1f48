import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Dog, NewDog } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { newId } from './ids.ts'
import { DogParams, NothingSchema, PROBLEMS } from './schemas.ts'

const dogs: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  app.get('/api/dogs', { schema: { response: { 200: Type.Array(Dog), ...PROBLEMS } } }, () => records.dogs())

  app.post(
    '/api/dogs',
    { schema: { body: NewDog, response: { 201: Dog, ...PROBLEMS } } },
    async (request, reply) => {
      const id = newId()
      await records.addDog({ ...request.body, id })
      return reply.code(201).send((await records.dog(id))!)
    },
  )

  app.get(
    '/api/dogs/:dogId',
    { schema: { params: DogParams, response: { 200: Dog, ...PROBLEMS } } },
    async ({ params: { dogId } }) => {
      const dog = await records.dog(dogId)
      if (!dog) throw new ServerError('DOG_NOT_FOUND', { dogId })
      return dog
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
