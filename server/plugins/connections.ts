import type { Socket } from 'node:net'
import { Server as SecureServer } from 'node:tls'
import { shared } from './shared.ts'

/** How long a closing server waits for answers that are under way, ms. */
const ANSWER_MS = 5000

/**
 * Connections that nobody is behind. One that broke before its request was looked at is let go without
 * an answer. A closing server does not wait for those that never asked for anything, as browsers open
 * them ahead of need and silent lines leave them behind: Node counts them as busy.
 */
export default shared('connections', async (app) => {
  const silent = new Set<Socket>()
  const arrival = app.server instanceof SecureServer ? 'secureConnection' : 'connection'
  app.server.on(arrival, (socket: Socket) => {
    silent.add(socket)
    socket.once('close', () => silent.delete(socket))
  })
  for (const asked of ['request', 'upgrade']) {
    app.server.on(asked, ({ socket }: { socket: Socket }) => silent.delete(socket))
  }

  app.addHook('onRequest', async ({ raw }, reply) => {
    // Its address is gone with it, and what counts or checks addresses needs one.
    if (raw.socket.remoteAddress !== undefined) return
    raw.socket.destroy()
    return reply.hijack()
  })

  app.addHook('preClose', (done) => {
    for (const socket of silent) socket.destroy()
    const impatient = setTimeout(() => app.server.closeAllConnections(), ANSWER_MS)
    app.server.once('close', () => clearTimeout(impatient))
    done()
  })
})
