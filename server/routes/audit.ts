import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { AuditEntry } from '#protocol/diary'
import { forDog } from '../access/rules.ts'
import { ServerError } from '../errors.ts'
import { DogParams, PROBLEMS } from './schemas.ts'

const DEFAULT_PAGE = 50
const MAX_PAGE = 500

const Page = Type.Object({
  entries: Type.Array(AuditEntry),
  next: Type.Union([Type.String({ description: 'Cursor of the next page' }), Type.Null()]),
})
const PageQuery = Type.Object({
  limit: Type.Optional(Type.Integer({ minimum: 1, maximum: MAX_PAGE })),
  cursor: Type.Optional(Type.String({ pattern: '^[0-9]{1,15}$' })),
})

/** What people changed about a dog. Nothing adds to it but the changes themselves; it goes with the dog. */
const audit: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  app.get(
    '/api/dogs/:dogId/audit',
    {
      config: { access: forDog('therapist') },
      schema: {
        description:
          'Newest first: what was changed, when and by whom, with what it was and is. Of a deleted session its ' +
          'id, its start and what was done with it stay.',
        params: DogParams,
        querystring: PageQuery,
        response: { 200: Page, ...PROBLEMS },
      },
    },
    async ({ params: { dogId }, query: { limit = DEFAULT_PAGE, cursor } }) => {
      if (!(await records.dog(dogId))) throw new ServerError('DOG_NOT_FOUND', { dogId })
      return records.audit.page(dogId, { limit, cursor })
    },
  )
}
export default audit
