import type { Config } from '../config.ts'
import { shared } from './shared.ts'

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Longest time the body of a request may take to arrive; `limits.bodyMs` without it. */
    receiveMs?: number
  }
}

/** As Node answers a request whose headers are too slow. */
const TOO_SLOW = 'HTTP/1.1 408 Request Timeout\r\nConnection: close\r\nContent-Length: 0\r\n\r\n'

/**
 * A client that sends its body byte by byte must not hold a connection for as long as it likes. Node bounds the
 * headers and the whole request; what a body may take differs between a few bytes of JSON and an archive.
 */
export default shared<{ config: Config }>('slow-bodies', async (app, { config }) => {
  app.addHook('onRequest', async ({ raw, headers, routeOptions }) => {
    const hasBody = Number(headers['content-length'] ?? 0) > 0 || headers['transfer-encoding'] !== undefined
    if (!hasBody) return
    const timer = setTimeout(() => {
      const { socket } = raw
      if (socket.writable) socket.write(TOO_SLOW)
      socket.destroySoon()
    }, routeOptions.config.receiveMs ?? config.limits.bodyMs)
    timer.unref()
    const stop = () => clearTimeout(timer)
    raw.once('end', stop).once('close', stop)
  })
})
