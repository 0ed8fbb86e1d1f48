import type { AddressInfo } from 'node:net'
import type { FastifyInstance } from 'fastify'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import { shared } from './shared.ts'

const LOOPBACK_NAMES = new Set(['localhost', '127.0.0.1', '[::1]'])
const UNSAFE_METHODS = new Set(['POST', 'PUT', 'PATCH', 'DELETE'])

/**
 * A page elsewhere must not reach this server through the visitor's browser: neither under a name
 * of its own that resolves to loopback (DNS rebinding, so the Host is checked), nor by a request or
 * a WebSocket from another origin (so the Origin is checked).
 */
export default shared<{ config: Config }>('host-guard', async (app, { config }) => {
  app.addHook('onRequest', async (request) => {
    const host = request.headers.host ?? ''
    if (!isOwnHost(host, listeningPort(app))) throw new ServerError('HOST_REFUSED', { host })
    const origin = request.headers.origin
    const guarded = UNSAFE_METHODS.has(request.method) || request.headers.upgrade !== undefined
    if (origin === undefined || !guarded) return
    if (origin === `http://${host}` || config.origins.includes(origin)) return
    throw new ServerError('ORIGIN_REFUSED', { origin })
  })
})

/** True for a loopback name with the port this server listens on (any port while it does not listen). */
export function isOwnHost(host: string, port: number | null): boolean {
  const match = /^(\[[0-9a-f:]+\]|[^:[\]]+)(?::(\d+))?$/i.exec(host)
  if (!match || !LOOPBACK_NAMES.has(match[1].toLowerCase())) return false
  return port === null || Number(match[2] ?? 80) === port
}

function listeningPort(app: FastifyInstance): number | null {
  const address = app.server.address()
  return app.server.listening ? (address as AddressInfo).port : null
}
