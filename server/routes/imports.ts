import { createWriteStream } from 'node:fs'
import { join } from 'node:path'
import { pipeline } from 'node:stream/promises'
import multipart from '@fastify/multipart'
import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Imported } from '#protocol/resources'
import type { FastifyRequest } from 'fastify'
import { SIGNED_IN } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import { Imports } from '../import/imports.ts'
import { Room } from '../room.ts'
import { PROBLEMS } from './schemas.ts'
import { eachAndAddress } from '../plugins/rate-limit.ts'
import { whoAsks } from './who-asks.ts'

/** Dogs back from their archives. */
const imports: FastifyPluginAsyncTypebox<{ config: Config }> = async (app, { config }) => {
  const { importBytes, importReceiveMs, importsPerMinute, importRoom } = config.limits
  const room = new Room(importRoom, importRoom / 2)
  const work = new Imports(app.store, config)
  app.addHook('onClose', () => work.close())
  await app.register(multipart, {
    limits: { fileSize: importBytes, files: 1, fields: 0, parts: 1 },
  })

  app.post(
    '/api/imports',
    {
      config: {
        access: SIGNED_IN,
        receiveMs: importReceiveMs,
        ...eachAndAddress(importsPerMinute, config.limits),
      },
      // The body is a stream of parts.
      validatorCompiler: () => (value) => ({ value }),
      bodyLimit: importBytes + 64 * 1024,
      schema: {
        description:
          'One ZIP of GET /api/dogs/:dogId/export.zip: the dog comes back as it was, under the same ids, all ' +
          'of it or nothing. 409 when the dog is here, 422 when the archive is not whole, not ours, newer, ' +
          'or was changed.',
        consumes: ['multipart/form-data'],
        body: Type.Object({ file: Type.String({ format: 'binary' }) }),
        response: { 201: Imported, ...PROBLEMS },
      },
    },
    (request, reply) => {
      const leave = room.take(whoAsks(request), 1)
      if (!leave) throw new ServerError('TOO_MUCH_AT_ONCE')
      const done = work.inFolder(async (folder) => {
        const zipPath = join(folder, 'archive.zip')
        await receive(request, zipPath, importBytes)
        const { dogId, sessions, analysedAgain } = await work.run(zipPath, folder, authorOf(request.visitor))
        const dog = await app.store.records.dog(dogId)
        if (!dog) throw new ServerError('DOG_NOT_FOUND', { dogId })
        return reply.code(201).send({ dog, sessions, analysedAgain })
      })
      return done.finally(leave)
    },
  )
}
export default imports

async function receive(request: FastifyRequest, path: string, limitBytes: number): Promise<void> {
  if (!request.isMultipart()) {
    throw new ServerError('MEDIA_TYPE', { reason: 'Send the archive as multipart/form-data.' })
  }
  const part = await request.file()
  if (!part) throw new ServerError('REQUEST_INVALID', { reason: 'The form holds no file.' })
  try {
    await pipeline(part.file, createWriteStream(path))
  } catch (error) {
    // What is still on its way is read to its end, or the next request on this connection would wait behind it.
    request.raw.unpipe()
    request.raw.resume()
    throw error
  }
  if (part.file.truncated) {
    throw new ServerError('IMPORT_TOO_LARGE', { limitMb: Math.round(limitBytes / 2 ** 20) })
  }
}
