import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { NewTrendSettings, TrendSettings } from '#protocol/trends'
import { ServerError } from '../errors.ts'
import { forDog } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import { etagOf, precondition, Preconditions, recordOf, withEtag } from './preconditions.ts'
import { DogParams, PROBLEMS } from './schemas.ts'

const url = '/api/dogs/:dogId/trend-settings'

/** What a person says on how the trends of a dog are read. */
const trendSettings: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  app.get(
    url,
    {
      config: { access: forDog('viewer') },
      schema: {
        description: 'Version 0, with its ETag, until somebody has set any.',
        params: DogParams,
        response: { 200: withEtag(TrendSettings), ...PROBLEMS },
      },
    },
    async ({ params: { dogId } }, reply) => {
      const settings = await records.trendSettings.settings(dogId)
      if (!settings) throw new ServerError('DOG_NOT_FOUND', { dogId })
      return reply.header('etag', etagOf(settings.version)).send(settings)
    },
  )

  app.put(
    url,
    {
      config: { access: forDog('therapist') },
      schema: {
        description: 'Replaces the settings you read.',
        params: DogParams,
        headers: Preconditions,
        body: NewTrendSettings,
        response: { 200: withEtag(TrendSettings), ...PROBLEMS },
      },
    },
    async ({ params: { dogId }, headers, body, visitor }, reply) => {
      const changed = await records.trendSettings.set(dogId, body, precondition(headers), authorOf(visitor))
      const missing = () => new ServerError('DOG_NOT_FOUND', { dogId })
      return recordOf(changed, reply, { missing, versionOf: ({ version }) => version })
    },
  )
}
export default trendSettings
