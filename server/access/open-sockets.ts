import type { FastifyBaseLogger } from 'fastify'
import { ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'

interface OpenSocket {
  /** Throws a ServerError when it may not go on. */
  readonly requireStill: () => Promise<void>
  readonly end: (error: ServerError) => void
}

/**
 * The live sockets that somebody's permission keeps open. They are asked again whenever who may do what has
 * changed, and from time to time, since permissions also end by themselves.
 */
export class OpenSockets {
  readonly #open = new Set<OpenSocket>()
  readonly #log: FastifyBaseLogger

  constructor(log: FastifyBaseLogger) {
    this.#log = log
  }

  /** Gives what takes it out again. */
  add(socket: OpenSocket): () => void {
    this.#open.add(socket)
    return () => void this.#open.delete(socket)
  }

  /** Ends those whose permission is gone; resolves when all were asked. */
  async recheck(): Promise<void> {
    await Promise.all([...this.#open].map((socket) => this.#ask(socket)))
  }

  async #ask(socket: OpenSocket): Promise<void> {
    try {
      await socket.requireStill()
    } catch (error) {
      if (!(error instanceof ServerError)) tell(this.#log, 'permission.unreadable', { err: error })
      this.#open.delete(socket)
      socket.end(new ServerError('ACCESS_ENDED', {}, { cause: error }))
    }
  }
}
