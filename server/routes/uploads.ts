import multipart from '@fastify/multipart'
import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { SessionSummary } from '#protocol/resources'
import { forDog } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import { TraceRefusedError } from '../analysis/jobs.ts'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import type { Author } from '../store/changes.ts'
import { DuplicateContentError } from '../store/records.ts'
import { Room } from '../room.ts'
import { eachAndAddress } from '../plugins/rate-limit.ts'
import { newId } from './ids.ts'
import { DogParams, PROBLEMS } from './schemas.ts'
import { storeUpload } from './store-upload.ts'
import { uploadForm, UploadFields } from './upload-form.ts'
import type { UploadForm } from './upload-form.ts'
import { whoAsks } from './who-asks.ts'

/** Traces from files: read and analysed in a worker before anything is stored. */
const uploads: FastifyPluginAsyncTypebox<{ config: Config }> = async (app, { config }) => {
  const { records } = app.store
  const { uploadBytes, uploadRoomBytes, uploadsPerMinute, uploadReceiveMs } = config.limits
  const room = new Room(uploadRoomBytes, uploadRoomBytes / 2)
  await app.register(multipart, {
    limits: { fileSize: uploadBytes, files: 1, fields: 20, fieldSize: 4096, parts: 21 },
  })

  const stored = async (dogId: string, form: UploadForm, who: string, by: Author): Promise<string> => {
    const { bytes, setUp, contentHash, sensor, ...reading } = form
    const known = await records.sessionWithContent(dogId, contentHash)
    if (known) throw duplicate(known)
    try {
      const { input, analysis } = await app.pool.run({ kind: 'file', bytes, ...reading }, who)
      const id = newId()
      const { file, mount } = reading
      await storeUpload(
        app.store,
        { id, dogId, contentHash, setUp, mount, sensor, file, input, analysis },
        by,
      )
      return id
    } catch (error) {
      if (error instanceof DuplicateContentError) throw duplicate(error.sessionId)
      if (error instanceof TraceRefusedError) throw unreadable(error)
      // Deleted while its trace was being analysed.
      if (!(await records.dog(dogId))) throw new ServerError('DOG_NOT_FOUND', { dogId })
      throw error
    }
  }

  app.post(
    '/api/dogs/:dogId/traces',
    {
      config: {
        access: forDog('therapist'),
        receiveMs: uploadReceiveMs,
        ...eachAndAddress(uploadsPerMinute, config.limits),
      },
      // The body is a stream of parts: `uploadForm` checks them.
      validatorCompiler: () => (value) => ({ value }),
      bodyLimit: uploadBytes + 64 * 1024,
      schema: {
        description:
          'One trace file. With a set-up that the plan in force on its day has, it follows that exercise. 409 when this dog has this content already, 422 when it cannot be read.',
        consumes: ['multipart/form-data'],
        params: DogParams,
        body: Type.Object({ file: Type.String({ format: 'binary' }), ...UploadFields.properties }),
        response: { 201: SessionSummary, ...PROBLEMS },
      },
    },
    async (request, reply) => {
      const { dogId } = request.params
      if (!(await records.dog(dogId))) throw new ServerError('DOG_NOT_FOUND', { dogId })
      const who = whoAsks(request)
      // Held in memory from here on, while it waits too.
      const bytes = Number(request.headers['content-length'] ?? uploadBytes)
      const leave = room.take(who, Math.min(bytes, uploadBytes))
      if (!leave) throw new ServerError('TOO_MUCH_AT_ONCE')
      try {
        const sessionId = await stored(
          dogId,
          await uploadForm(request, uploadBytes),
          who,
          authorOf(request.visitor),
        )
        return await reply.code(201).send((await records.session(sessionId))!)
      } finally {
        leave()
      }
    },
  )
}
export default uploads

function duplicate(sessionId: string): ServerError {
  return new ServerError('TRACE_DUPLICATE', {}, { extras: { sessionId } })
}

function unreadable(cause: TraceRefusedError): ServerError {
  const { code, message, line, column, value, remedy } = cause.failure
  const extras = {
    ...(code !== undefined && { code }),
    ...(line !== undefined && { line }),
    ...(column !== undefined && { column }),
    ...(value !== undefined && { value }),
    ...(remedy !== undefined && { remedy }),
  }
  return new ServerError('TRACE_UNREADABLE', { reason: message }, { cause, extras })
}
