import type { IncomingMessage } from 'node:http'
import helmet from '@fastify/helmet'
import { isOwnHost } from './host-guard.ts'
import { shared } from './shared.ts'

/** Self only, no inline script or style; the live sockets need ws: spelled out for older engines. */
export default shared('security-headers', async (app) => {
  await app.register(helmet, {
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        defaultSrc: ["'none'"],
        scriptSrc: ["'self'"],
        styleSrc: ["'self'"],
        imgSrc: ["'self'", 'data:', 'blob:'],
        fontSrc: ["'self'"],
        mediaSrc: ["'self'"],
        manifestSrc: ["'self'"],
        workerSrc: ["'self'"],
        connectSrc: ["'self'", (request) => ownSocket((request as IncomingMessage).headers.host)],
        formAction: ["'self'"],
        frameAncestors: ["'none'"],
        baseUri: ["'none'"],
        objectSrc: ["'none'"],
      },
    },
    // Plain HTTP on loopback: promising HTTPS for this name would break other local servers.
    strictTransportSecurity: false,
    referrerPolicy: { policy: 'no-referrer' },
    xFrameOptions: { action: 'deny' },
  })
  app.addHook('onRequest', async (request, reply) => {
    // Bluetooth is not named: it is for this page alone by default, and browsers without it complain.
    reply.header(
      'permissions-policy',
      'accelerometer=(self), gyroscope=(self), camera=(), microphone=(), geolocation=()',
    )
    if (request.url.startsWith('/api/')) reply.header('cache-control', 'no-store')
  })
})

/** A Host that is not ours never gets into the policy (its request is refused anyway). */
function ownSocket(host = ''): string {
  return isOwnHost(host, null) ? `ws://${host}` : "'self'"
}
