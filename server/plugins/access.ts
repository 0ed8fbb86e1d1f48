import cookie from '@fastify/cookie'
import type { FastifyRequest } from 'fastify'
import { Cookies } from '../access/cookies.ts'
import { OpenSockets } from '../access/open-sockets.ts'
import { Permissions } from '../access/permissions.ts'
import { isNobody } from '../access/visitor.ts'
import type { Visitor } from '../access/visitor.ts'
import { SIGN_IN_IDLE_MS, Visitors } from '../access/visitors.ts'
import type { Access, DogPlace } from '../access/rules.ts'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'
import { shared } from './shared.ts'

declare module 'fastify' {
  interface FastifyInstance {
    cookies: Cookies
    visitors: Visitors
    permissions: Permissions
    openSockets: OpenSockets
  }
  interface FastifyRequest {
    /** Who asks; set before any route under /api runs. */
    visitor: Visitor
    /** True once the rule of the route has let the request through. */
    isLetIn: boolean
  }
}

const STRANGER: Visitor = {
  credentials: { signIn: null, share: null, paired: [] },
  person: null,
  share: null,
  pairedSessions: [],
}
/** Permissions that end by themselves are noticed within this time, ms. */
const RECHECK_MS = 30_000
/** What has ended is taken out of the database this often: it opens nothing, but tells who was there. */
const SWEEP_MS = 3_600_000
const ID = /^[A-Za-z0-9_-]{1,64}$/

/**
 * Lets a request through to its route only by the rule the route declares. Who it is, is found before the body is
 * read; what it may, before the body is checked: nobody learns from a complaint what is behind a closed door.
 */
export default shared<{ config: Config }>('access', async (app, { config }) => {
  await app.register(cookie)
  const { people } = app.store
  app.decorate('cookies', new Cookies(config.exposure))
  const onlyThisComputer = config.exposure === 'this computer'
  app.decorate('visitors', new Visitors(people, { onlyThisComputer }))
  app.decorate('permissions', new Permissions(people.roles))
  app.decorate('openSockets', new OpenSockets(app.log))
  app.decorateRequest('visitor')
  app.decorateRequest('isLetIn', false)

  const sweep = async () => {
    const nowMs = Date.now()
    await people.passes.removeOver(nowMs, nowMs - SIGN_IN_IDLE_MS)
    await people.invitations.removeOver(new Date(nowMs))
  }
  const sweeping = setInterval(() => {
    sweep().catch((err: unknown) => tell(app.log, 'access.not-swept', { err }))
  }, SWEEP_MS).unref()
  app.addHook('onReady', async () => {
    await people.passes.removeDemos()
    await sweep()
  })
  const timer = setInterval(() => void app.openSockets.recheck(), RECHECK_MS).unref()
  app.addHook('onClose', async () => [timer, sweeping].forEach((each) => clearInterval(each)))

  app.addHook('onRoute', ({ url, method, config: routeConfig }) => {
    if (!url.startsWith('/api') || routeConfig?.access) return
    throw new Error(`${String(method)} ${url} does not declare who may use it (config.access)`)
  })

  // Bounds come first: they count whoever is refused here, too.
  app.addHook('preParsing', async (request) => {
    const { access } = request.routeOptions.config
    request.visitor = access ? await app.visitors.visitor(app.cookies.credentials(request)) : STRANGER
    if (!access) return
    for (const bound of app.visitorBounds) await bound(request)
    if (access.who === 'anyone' || access.who === 'socket') return
    if (isNobody(request.visitor)) throw new ServerError('SIGN_IN_FIRST')
  })

  const letIn = async (request: FastifyRequest, access: Access) => {
    await requireAllowed(request, access, app.permissions)
    request.isLetIn = true
  }
  app.addHook('preValidation', async (request) => {
    const { access } = request.routeOptions.config
    if (!access) return
    // What is no id at all is the business of the checks that follow, and of the door behind them.
    if (access.who === 'people of the dog' && !ID.test(String(idAt(request, access.at)))) return
    await letIn(request, access)
  })
  app.addHook('preHandler', async (request) => {
    const { access } = request.routeOptions.config
    if (access && !request.isLetIn) await letIn(request, access)
  })
})

async function requireAllowed(request: FastifyRequest, access: Access, permissions: Permissions) {
  const { visitor } = request
  switch (access.who) {
    case 'anyone':
    case 'socket':
      return
    case 'signed in':
      if (!visitor.person) throw new ServerError('SIGN_IN_FIRST')
      return
    case 'keeper':
      if (!visitor.person) throw new ServerError('SIGN_IN_FIRST')
      if (!visitor.person.keeper) throw new ServerError('KEEPER_ONLY')
      return
    case 'share':
      if (visitor.share?.scope.kind !== access.kind) throw new ServerError('SHARE_NOT_VALID')
      return
    case 'people of the dog': {
      if (access.orPairedDevice && isOfPairedSession(request, access.at)) return
      const id = String(idAt(request, access.at))
      if (access.at === 'params.sessionId') {
        const missing = () => new ServerError('SESSION_NOT_FOUND', { sessionId: id })
        return permissions.requireRoleOfSession(visitor, id, access.role, missing)
      }
      const missing = () => new ServerError('DOG_NOT_FOUND', { dogId: id })
      return permissions.requireRole(visitor, id, access.role, missing)
    }
  }
}

function idAt({ params, body }: FastifyRequest, place: DogPlace): unknown {
  if (place === 'body.dogId') return (body as { dogId?: unknown } | null | undefined)?.dogId
  return (params as Record<string, unknown>)[place.slice('params.'.length)]
}

/** A session in the body names itself as `id`: a phone opens again what it was handed. */
function isOfPairedSession(request: FastifyRequest, place: DogPlace): boolean {
  const { body, visitor } = request
  const sessionId =
    place === 'body.dogId'
      ? (body as { id?: unknown } | null | undefined)?.id
      : idAt(request, 'params.sessionId')
  return typeof sessionId === 'string' && visitor.pairedSessions.includes(sessionId)
}
