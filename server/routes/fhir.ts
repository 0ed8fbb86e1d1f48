import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { forDog } from '../access/rules.ts'
import { fhirBundle } from '../export/fhir/bundle.ts'
import { ServerError } from '../errors.ts'
import { DogParams, PROBLEMS } from './schemas.ts'

/** What was measured, in the words of clinical systems. */
const fhir: FastifyPluginAsyncTypebox = async (app) => {
  app.get(
    '/api/dogs/:dogId/fhir.json',
    {
      config: { access: forDog('therapist') },
      schema: {
        description:
          'HL7 FHIR R5 (5.0.0): a Bundle of type collection with the dog as Patient, its sensors as Device ' +
          'and an Observation for each measure, check-in and sign of fatigue. The codes are our own.',
        params: DogParams,
        produces: ['application/fhir+json'],
        response: { 200: Type.Unknown({ description: 'A FHIR Bundle' }), ...PROBLEMS },
      },
    },
    async ({ params: { dogId } }, reply) => {
      const bundle = await fhirBundle(app.store, dogId, new Date())
      if (!bundle) throw new ServerError('DOG_NOT_FOUND', { dogId })
      return reply
        .type('application/fhir+json; charset=utf-8')
        .header('content-disposition', `attachment; filename="swaybook-${dogId}.fhir.json"`)
        .header('cache-control', 'no-store')
        .send(JSON.stringify(bundle))
    },
  )
}
export default fhir
