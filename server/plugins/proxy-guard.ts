import type { FastifyRequest } from 'fastify'
import { isIP } from 'node:net'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import { AddressList } from '../exposure/address-list.ts'
import { lastOf } from '../exposure/own-address.ts'
import { answersDirectly } from './host-guard.ts'
import { shared } from './shared.ts'

/** What proxies add to say whom they speak for. */
const FORWARDED = ['forwarded', 'x-forwarded-for', 'x-forwarded-host', 'x-forwarded-proto', 'x-real-ip']

/**
 * With a proxy in front everybody seems to call from its address: what a request says of its client counts only
 * when the proxy said it, and a proxy that nobody told this server of must not go unnoticed, since through one
 * everybody would be "this computer".
 */
export default shared<{ config: Config }>('proxy-guard', async (app, { config }) => {
  const proxies = new AddressList(config.proxyAddresses)
  app.addHook('onRequest', async (request) => {
    if (config.exposure !== 'proxy') {
      const header = FORWARDED.find((name) => request.headers[name] !== undefined)
      if (header !== undefined) throw new ServerError('PROXY_NOT_TOLD', { header })
    } else if (!answersDirectly(app, request)) {
      requireProxy(request, proxies)
    }
  })
})

function requireProxy({ socket, headers }: FastifyRequest, proxies: AddressList): void {
  const peer = socket.remoteAddress ?? ''
  if (!proxies.has(peer)) throw new ServerError('PROXY_BYPASSED', { address: peer })
  if (lastOf(headers['x-forwarded-proto']) !== 'https') {
    throw new ServerError('PROXY_HEADERS', {
      reason: 'X-Forwarded-Proto must be https: let the proxy take plain HTTP only to redirect it.',
    })
  }
  // Without it all clients would share one limit, and the log would know none of them.
  if (isIP(lastOf(headers['x-forwarded-for']) ?? '') === 0) {
    throw new ServerError('PROXY_HEADERS', {
      reason: 'X-Forwarded-For must end with the address of the client.',
    })
  }
}
