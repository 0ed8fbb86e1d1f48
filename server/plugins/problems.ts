import type { FastifyError, FastifyReply } from 'fastify'
import { Settings } from 'typebox/system'
import { problemOf, ServerError } from '../errors.ts'
import { isDiskFailure } from '../store/disk-failure.ts'
import { SeriesUnavailableError } from '../store/time-series.ts'
import { tell } from '../log/tell.ts'
import { MAX_COMPLAINTS, validationWords } from '../validation-words.ts'
import { shared } from './shared.ts'

/** Every failure leaves as problem+json; unexpected ones are logged and told in general words. */
export default shared('problems', async (app) => {
  Settings.Set({ maxErrors: MAX_COMPLAINTS })
  app.setErrorHandler<FastifyError>((error, request, reply) => {
    // A close code of a socket is no HTTP status: such an error is not meant for a request.
    const known = error instanceof ServerError && error.status < 600 ? error : translated(error)
    if (known.retryAfterS !== null) void reply.header('retry-after', known.retryAfterS)
    if (known.status >= 500) {
      const { method, routeOptions } = request
      tell(request.log, 'request.failed', {
        problem: known.code,
        method,
        route: routeOptions.url,
        err: error,
      })
    }
    app.tellRefusal(request, known)
    return sendProblem(reply, known, request.id)
  })
})

/** For answers that no hook sees (plugins/security-headers.ts): no browser may make anything of them. */
const NO_PAGE = {
  'content-security-policy': "default-src 'none';frame-ancestors 'none'",
  'cross-origin-opener-policy': 'same-origin',
  'cross-origin-resource-policy': 'same-origin',
  'permissions-policy': 'camera=(), microphone=(), geolocation=()',
  'referrer-policy': 'no-referrer',
  'x-content-type-options': 'nosniff',
}

/** What the router refuses before any route or hook sees it: an address it cannot read, or too long a part of one. */
export function routerProblem(error: FastifyError, { id }: { id: string }, reply: ProblemReply): void {
  for (const [name, value] of Object.entries(NO_PAGE)) reply.header(name, value)
  const isLong = error.code === 'FST_ERR_MAX_PARAM_LENGTH'
  const reason = isLong
    ? 'A part of the address is longer than any id.'
    : 'The address cannot be read: a % in it is followed by what is no character.'
  sendProblem(reply, new ServerError('REQUEST_INVALID', { reason }), id)
}

type ProblemReply = Pick<FastifyReply, 'code' | 'type' | 'send' | 'header'>

function sendProblem(reply: ProblemReply, error: ServerError, requestId: string) {
  const body = JSON.stringify(problemOf(error, requestId))
  return reply.code(error.status).type('application/problem+json').send(body)
}

function translated(error: FastifyError): ServerError {
  if (error instanceof SeriesUnavailableError) {
    return new ServerError('SERIES_UNAVAILABLE', {}, { cause: error })
  }
  // Before what the plugins make of it: an upload that finds no room is no bad request.
  if (isDiskFailure(error)) return new ServerError('DISK_FAILED', {}, { cause: error })
  const status = error.statusCode ?? 500
  if (error.validation) return new ServerError('REQUEST_INVALID', { reason: validationText(error) })
  if (error.code === 'FST_REQ_FILE_TOO_LARGE') return new ServerError('BODY_TOO_LARGE')
  if (status === 413) return new ServerError('BODY_TOO_LARGE')
  if (status === 415 || status === 406) return new ServerError('MEDIA_TYPE', { reason: error.message })
  if (status >= 400 && status < 500) return new ServerError('REQUEST_INVALID', { reason: error.message })
  return new ServerError('INTERNAL', {}, { cause: error })
}

function validationText(error: FastifyError): string {
  const words = validationWords(error.validation ?? [], error.validationContext ?? 'request')
  return `${words || error.message}.`
}
