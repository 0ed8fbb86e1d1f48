import type { FastifyRequest } from 'fastify'
import type { ErrorCode, ServerError } from '../errors.ts'
import type { LogEvent } from '../log/events.ts'
import { OnceAMinute } from '../log/once-a-minute.ts'
import { tell } from '../log/tell.ts'
import { shared } from './shared.ts'

type Told = Extract<
  LogEvent,
  | 'access.refused'
  | 'link.refused'
  | 'cross-site.refused'
  | 'address.refused'
  | 'limit.reached'
  | 'input.refused'
  | 'upload.refused'
>

/** Refusals that whoever guards the server looks for; what is not here is told by `request.done` alone. */
const EVENTS: Partial<Record<ErrorCode, Told>> = {
  ROLE_TOO_LOW: 'access.refused',
  KEEPER_ONLY: 'access.refused',
  METRICS_TOKEN_REQUIRED: 'access.refused',
  INVITATION_NOT_VALID: 'link.refused',
  SHARE_NOT_VALID: 'link.refused',
  PAIRING_NOT_VALID: 'link.refused',
  ORIGIN_REFUSED: 'cross-site.refused',
  HOST_REFUSED: 'address.refused',
  PROXY_NOT_TOLD: 'address.refused',
  PROXY_BYPASSED: 'address.refused',
  PROXY_HEADERS: 'address.refused',
  TOO_MANY_REQUESTS: 'limit.reached',
  TOO_MANY_SOCKETS: 'limit.reached',
  TOO_MUCH_AT_ONCE: 'limit.reached',
  ANALYSIS_BUSY: 'limit.reached',
  SIGN_IN_LOCKED: 'limit.reached',
  SIGN_IN_BUSY: 'limit.reached',
  REQUEST_INVALID: 'input.refused',
  MEDIA_TYPE: 'input.refused',
  BODY_TOO_LARGE: 'upload.refused',
  UPLOAD_TOO_LARGE: 'upload.refused',
  ANALYSIS_TOO_LONG: 'upload.refused',
  ANALYSIS_TOO_BIG: 'upload.refused',
  IMPORT_TOO_LARGE: 'upload.refused',
  IMPORT_REFUSED: 'upload.refused',
  IMPORT_TOO_LONG: 'upload.refused',
  IMPORT_TOO_BIG: 'upload.refused',
}

/** Whom each event names beside the request; a name only where the client said one that matters. */
const ASKED: Partial<Record<Told, (request: FastifyRequest) => object>> = {
  'cross-site.refused': ({ headers }) => ({ origin: headers.origin ?? headers['sec-fetch-site'] }),
  'address.refused': ({ headers }) => ({ host: headers.host }),
}

/**
 * Tells the log of requests that were refused, by the code of the refusal. By address and kind at most once a minute:
 * a flood must not fill the disk with how it was held off.
 */
export default shared('refusals', async (app) => {
  const seldom = new OnceAMinute()

  /** Called by the handler of errors, with the error as it is answered. */
  app.decorate('tellRefusal', (request: FastifyRequest, error: ServerError) => {
    const { log, ip: address, method, routeOptions } = request
    const { url: route } = routeOptions
    const { code } = error
    if (code === 'SIGN_IN_FIRST') {
      const event = cameWithSignIn(request) ? 'sign-in.over' : 'access.nobody'
      return tell(log, event, { address, method, route })
    }
    const event = isWithoutRole(request, code) ? 'access.refused' : EVENTS[code]
    if (!event) return
    const by = (request.visitor as FastifyRequest['visitor'] | undefined)?.person?.id ?? null
    if (!seldom.isNew([event, code, by, address, route].join(' '))) return
    const problem = error.extras.code ?? code
    const fields = { by, address, method, route, problem, ...ASKED[event]?.(request) }
    tell(log, event, fields)
  })
})

declare module 'fastify' {
  interface FastifyInstance {
    tellRefusal(request: FastifyRequest, error: ServerError): void
  }
}

/** A dog or a session that is not there for who asks: there is none, or they have no role with it. */
function isWithoutRole({ isLetIn, routeOptions }: FastifyRequest, code: ErrorCode): boolean {
  const isMissing = code === 'DOG_NOT_FOUND' || code === 'SESSION_NOT_FOUND'
  return isMissing && isLetIn === false && routeOptions.config.access?.who === 'people of the dog'
}

/** Its cookie opened nothing: it is over, was ended, or never was one. */
function cameWithSignIn({ server, cookies }: FastifyRequest): boolean {
  return Boolean(cookies?.[server.cookies.nameOf('swaybook_sign_in')])
}
