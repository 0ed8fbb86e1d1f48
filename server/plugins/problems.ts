import type { FastifyError } from 'fastify'
import { problemOf, ServerError } from '../errors.ts'
import { isDiskFailure } from '../store/disk-failure.ts'
import { shared } from './shared.ts'

/** Every failure leaves as problem+json; unexpected ones are logged and told in general words. */
export default shared('problems', async (app) => {
  app.setErrorHandler<FastifyError>((error, request, reply) => {
    // A close code of a socket is no HTTP status: such an error is not meant for a request.
    const known = error instanceof ServerError && error.status < 600 ? error : translated(error)
    if (known.status >= 500) request.log.error({ err: error }, known.code)
    return reply
      .code(known.status)
      .type('application/problem+json')
      .send(JSON.stringify(problemOf(known)))
  })
})

function translated(error: FastifyError): ServerError {
  const status = error.statusCode ?? 500
  if (error.validation) return new ServerError('REQUEST_INVALID', { reason: validationText(error) })
  if (error.code === 'FST_REQ_FILE_TOO_LARGE') return new ServerError('BODY_TOO_LARGE')
  if (status === 413) return new ServerError('BODY_TOO_LARGE')
  if (status === 415 || status === 406) return new ServerError('MEDIA_TYPE', { reason: error.message })
  if (status >= 400 && status < 500) return new ServerError('REQUEST_INVALID', { reason: error.message })
  return new ServerError(isDiskFailure(error) ? 'DISK_FAILED' : 'INTERNAL', {}, { cause: error })
}

function validationText(error: FastifyError): string {
  const parts = (error.validation ?? []).slice(0, 3).map((problem) => {
    const where = `${error.validationContext ?? 'request'}${problem.instancePath.replaceAll('/', '.')}`
    const extra = (problem.params as { additionalProperties?: string[] })?.additionalProperties
    return `${where} ${problem.message}${extra ? ` (${extra.join(', ')})` : ''}`
  })
  return `${parts.join('; ') || error.message}.`
}
