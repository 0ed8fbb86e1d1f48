import type { WebSocket } from 'ws'

/** Pings that may stay unanswered before the other side counts as gone. */
const MAX_MISSED = 2

/** Pings a socket and ends it after two missed answers: a pulled plug sends no goodbye. */
export function keepAlive(socket: WebSocket, intervalMs: number): void {
  let missed = 0
  socket.on('pong', () => (missed = 0))
  const timer = setInterval(() => {
    // A socket that is held back cannot be heard.
    if (socket.isPaused) return
    if (missed >= MAX_MISSED) return socket.terminate()
    missed++
    socket.ping()
  }, intervalMs)
  timer.unref()
  socket.on('close', () => clearInterval(timer))
}
