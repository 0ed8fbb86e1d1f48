import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { forDog } from '../access/rules.ts'
import { requireWithinReach } from '../analysis/within-reach.ts'
import { archiveZip } from '../export/archive-zip.ts'
import { ServerError } from '../errors.ts'
import { DogParams, PROBLEMS } from './schemas.ts'
import { tell } from '../log/tell.ts'

/** Everything one dog has, as a ZIP that explains itself and can be brought back. */
const exports: FastifyPluginAsyncTypebox = async (app) => {
  app.get(
    '/api/dogs/:dogId/export.zip',
    {
      config: { access: forDog('therapist') },
      schema: {
        description:
          'Everything one dog has: JSON with schemas, samples as CSV and EDF+, a table of sessions. Sessions ' +
          'that are being recorded are left out and named in manifest.json. POST /api/imports takes it back.',
        params: DogParams,
        produces: ['application/zip'],
        response: {
          200: Type.Unsafe<NodeJS.ReadableStream>({ type: 'string', format: 'binary' }),
          ...PROBLEMS,
        },
      },
    },
    async ({ params: { dogId }, log }, reply) => {
      const archive = await app.store.archives.dog(dogId)
      if (!archive) throw new ServerError('DOG_NOT_FOUND', { dogId })
      // Before the first byte, when it can still be refused in words.
      for (const { id } of archive.sessions) await requireWithinReach(app.store, id)
      const exportedAt = new Date()
      const day = exportedAt.toISOString().slice(0, 10)
      const zip = archiveZip({ store: app.store, pool: app.pool }, archive, exportedAt)
      zip.on('error', (err) => tell(log, 'export.failed', { err, dogId }))
      return reply
        .type('application/zip')
        .header('content-disposition', `attachment; filename="swaybook-${dogId}-${day}.zip"`)
        .header('cache-control', 'no-store')
        .send(zip)
    },
  )
}
export default exports
