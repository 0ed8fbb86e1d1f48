import type { AddressInfo } from 'node:net'
import type { FastifyInstance, FastifyRequest } from 'fastify'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import { askedHost, isLoopbackHost, ownOrigin } from '../exposure/own-address.ts'
import { shared } from './shared.ts'

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Answers also without the proxy, under a loopback name: for what watches over this process on its machine. */
    direct?: boolean
  }
}

const UNSAFE_METHODS = new Set(['POST', 'PUT', 'PATCH', 'DELETE'])

/**
 * A page elsewhere must not reach this server through the visitor's browser: neither under a name of its own that
 * resolves to this address (DNS rebinding, so the Host is checked), nor by a request or a WebSocket from another
 * origin (so the Origin is checked), nor by a picture or a script of it that points here (so the browser's own word
 * on where a request comes from is checked: Fetch Metadata, W3C).
 */
export default shared<{ config: Config }>('host-guard', async (app, { config }) => {
  app.addHook('onRequest', async (request) => {
    if (answersDirectly(app, request)) return
    const host = askedHost(request.headers, config)
    const own = ownOrigin(host, config, listeningPort(app))
    if (own === null) throw new ServerError('HOST_REFUSED', { host })
    const { origin } = request.headers
    if (origin !== undefined && config.origins.includes(origin)) return
    const guarded = UNSAFE_METHODS.has(request.method) || request.headers.upgrade !== undefined
    if (guarded && origin !== undefined && origin !== own) throw new ServerError('ORIGIN_REFUSED', { origin })
    if (comesFromElsewhere(request))
      throw new ServerError('ORIGIN_REFUSED', { origin: origin ?? 'another site' })
  })
})

/**
 * True when the browser says that a page of another site asks, unless a person goes to a page of ours from there: a
 * link in a mail must work, and shows nothing to that site.
 */
function comesFromElsewhere({ method, url, headers }: FastifyRequest): boolean {
  const site = headers['sec-fetch-site']
  if (site === undefined || site === 'same-origin' || site === 'none') return false
  const isVisit =
    method === 'GET' && headers['sec-fetch-mode'] === 'navigate' && headers['sec-fetch-dest'] === 'document'
  return !isVisit || url.startsWith('/api/')
}

/** True for a route that may be asked past the proxy, asked under a loopback name. */
export function answersDirectly(app: FastifyInstance, { routeOptions, headers }: FastifyRequest): boolean {
  return routeOptions.config.direct === true && isLoopbackHost(headers.host ?? '', listeningPort(app))
}

function listeningPort(app: FastifyInstance): number | null {
  const address = app.server.address()
  return app.server.listening ? (address as AddressInfo).port : null
}
