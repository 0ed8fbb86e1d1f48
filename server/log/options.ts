import { randomBytes } from 'node:crypto'
import Fastify from 'fastify'
import type { FastifyError, FastifyReply, FastifyRequest, FastifyServerOptions } from 'fastify'
import type { LogLevel } from '../config.ts'
import { LIBRARY_EVENT } from './events.ts'
import { HIDDEN, plainText, withoutSecrets } from './plain-text.ts'
import { tell } from './tell.ts'

/** Fields that are never told, whoever gives them to a logger, at the top and two levels down. */
const SECRET_FIELDS = [
  'password',
  'current',
  'secret',
  'secretHash',
  'passwordHash',
  'recoveryCodes',
  'token',
  'cookie',
  'cookies',
  'set-cookie',
  'authorization',
  'headers',
  'rawHeaders',
  'body',
  'payload',
  // Of a second factor: its offer.
  'uri',
]

const paths = SECRET_FIELDS.flatMap((name) => {
  const quoted = `["${name}"]`
  return [quoted, `*${quoted}`, `*.*${quoted}`]
})

/** Whoever asks gets this number with what went wrong, and the log has it in every line of the request. */
const REQUEST_ID_BYTES = 6

/** The path of an address: what follows the question mark is the client's own, and may be anything. */
const pathOf = (url: string) => plainText(url.split('?')[0])

function errorFields(error: Error): { type: string; message: string; stack: string; code?: string } {
  const { name, message, stack = '', cause } = error
  const { code } = error as { code?: unknown }
  const caused = cause instanceof Error ? `\ncaused by: ${errorFields(cause).stack}` : ''
  return {
    type: name,
    message: plainText(message),
    stack: withoutSecrets(stack) + caused,
    ...(typeof code === 'string' && { code }),
  }
}

class RequestLines extends Fastify.LogController {
  override incomingRequest({ log, ip, method, url }: FastifyRequest): void {
    tell(log, 'request.begun', { address: ip, method, path: pathOf(url) })
  }

  override requestCompleted(
    error: Error | null | undefined,
    request: FastifyRequest,
    reply: FastifyReply,
  ): void {
    const { log, ip, method, url, routeOptions } = request
    if (error) return this.streamError(error, request)
    const [status, ms] = [reply.statusCode, Math.round(reply.elapsedTime)]
    tell(log, 'request.done', { address: ip, method, path: pathOf(url), route: routeOptions.url, status, ms })
  }

  override streamError(err: Error, { log, method, routeOptions }: FastifyRequest): void {
    tell(log, 'request.broken', { method, route: routeOptions.url, err })
  }
}

/** Fastify's options for the log: pino's JSON on standard error, since standard output carries the address only. */
export function logOptions(
  level: LogLevel,
  stream: { write(line: string): void } = process.stderr,
): Pick<FastifyServerOptions, 'logger' | 'logController' | 'genReqId'> {
  return {
    logger: {
      level,
      stream,
      redact: { paths, censor: HIDDEN },
      serializers: {
        err: (error: FastifyError) => errorFields(error),
        req: ({ method, url }) => ({ method, path: pathOf(url ?? '') }),
        res: ({ statusCode }) => ({ statusCode }),
      },
      formatters: {
        // What our own code says has its name already.
        log: (line) => ('event' in line ? line : { event: LIBRARY_EVENT, ...line }),
      },
    },
    logController: new RequestLines({ requestIdLogLabel: 'requestId' }),
    genReqId: () => randomBytes(REQUEST_ID_BYTES).toString('hex'),
  }
}
