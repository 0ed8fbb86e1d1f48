import type { Server } from 'node:https'
import type { Config } from '../config.ts'
import { readCertificate, watchCertificate } from '../exposure/certificate.ts'
import { TLS_PROTOCOL } from '../exposure/tls-protocol.ts'
import { shared } from './shared.ts'
import { tell } from '../log/tell.ts'

declare module 'fastify' {
  interface FastifyInstance {
    /** Serves what lies in the files of the certificate now; keeps what it had when that cannot be served. */
    renewCertificate(): void
  }
}

const DAY_MS = 24 * 3600 * 1000
/** Renewals of public authorities come 30 days before the end (common practice): later, something is stuck. */
const SOON_DAYS = 14

/** A renewed certificate is served without a restart: when its files change, and when the process is told. */
export default shared<{ config: Config }>('certificate', async (app, { config }) => {
  const { tlsFiles, publicOrigins } = config
  const renew = () => {
    if (!tlsFiles) return
    try {
      const { cert, key, expiresAt } = readCertificate(tlsFiles, publicOrigins, new Date())
      ;(app.server as Server).setSecureContext({ cert, key, ...TLS_PROTOCOL })
      const days = Math.floor((expiresAt.getTime() - Date.now()) / DAY_MS)
      if (days < SOON_DAYS) tell(app.log, 'certificate.ends-soon', { days, expiresAt })
      else tell(app.log, 'certificate.read', { days, expiresAt })
    } catch (err) {
      tell(app.log, 'certificate.refused', { err })
    }
  }
  app.decorate('renewCertificate', renew)
  if (!tlsFiles) return
  const stopWatching = watchCertificate(tlsFiles, renew)
  app.addHook('onReady', async () => renew())
  app.addHook('onClose', async () => stopWatching())
})
