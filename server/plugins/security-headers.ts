import type { IncomingMessage } from 'node:http'
import helmet from '@fastify/helmet'
import type { Config } from '../config.ts'
import { askedHost, ownOrigin } from '../exposure/own-address.ts'
import { shared } from './shared.ts'

const YEAR_S = 365 * 24 * 3600

/** Self only, no inline script or style; the live sockets need ws: or wss: spelled out for older engines. */
export default shared<{ config: Config }>('security-headers', async (app, { config }) => {
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
        connectSrc: ["'self'", (request) => ownSocket(request as IncomingMessage, config)],
        formAction: ["'self'"],
        frameAncestors: ["'none'"],
        baseUri: ["'none'"],
        objectSrc: ["'none'"],
      },
    },
    // Plain HTTP on loopback: promising HTTPS for this name would break other local servers.
    strictTransportSecurity: config.exposure !== 'this computer' && {
      maxAge: YEAR_S,
      includeSubDomains: true,
    },
    crossOriginOpenerPolicy: { policy: 'same-origin' },
    crossOriginResourcePolicy: { policy: 'same-origin' },
    referrerPolicy: { policy: 'no-referrer' },
    xFrameOptions: { action: 'deny' },
  })
  app.addHook('onRequest', async (request, reply) => {
    // Bluetooth is not named: it is for this page alone by default, and browsers without it complain.
    reply.header(
      'permissions-policy',
      'accelerometer=(self), gyroscope=(self), camera=(), microphone=(), geolocation=(), display-capture=(), payment=(), usb=()',
    )
    if (request.url.startsWith('/api/')) reply.header('cache-control', 'no-store')
  })
})

/** A Host that is not ours never gets into the policy (its request is refused anyway). */
function ownSocket({ headers }: IncomingMessage, config: Config): string {
  return ownOrigin(askedHost(headers, config), config, null)?.replace(/^http/, 'ws') ?? "'self'"
}
