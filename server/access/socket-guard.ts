import type { WebSocket } from 'ws'
import type { Author } from '../store/changes.ts'
import type { ServerError } from '../errors.ts'
import type { OpenSockets } from './open-sockets.ts'
import type { Permissions } from './permissions.ts'
import { authorOf } from './visitor.ts'
import type { Visitor } from './visitor.ts'
import type { Visitors } from './visitors.ts'

export interface SocketGuardParts {
  readonly visitors: Visitors
  readonly permissions: Permissions
  readonly openSockets: OpenSockets
}

/**
 * What one live socket may do. A socket lives long: each question is answered for whoever its cookies stand for at
 * that moment, and the socket ends when what it was opened for is no longer allowed.
 */
export class SocketGuard {
  readonly #opener: Visitor
  readonly #parts: SocketGuardParts

  constructor(opener: Visitor, parts: SocketGuardParts) {
    this.#opener = opener
    this.#parts = parts
  }

  /** @throws {ServerError} unless the session may be recorded; later that ends the socket */
  requireSending(socket: WebSocket, sessionId: string, end: (error: ServerError) => void): Promise<void> {
    const require = (visitor: Visitor) => this.#parts.permissions.requireSending(visitor, sessionId)
    return this.#require(socket, require, end)
  }

  /** @throws {ServerError} unless the session may be watched; later that ends the socket */
  requireWatching(socket: WebSocket, sessionId: string, end: (error: ServerError) => void): Promise<void> {
    const require = (visitor: Visitor) => this.#parts.permissions.requireWatching(visitor, sessionId)
    return this.#require(socket, require, end)
  }

  /** Who marks. @throws {ServerError} for one who may only watch */
  async marking(sessionId: string): Promise<Author> {
    const visitor = await this.#visitor()
    await this.#parts.permissions.requireMarking(visitor, sessionId)
    return authorOf(visitor)
  }

  async #require(
    socket: WebSocket,
    require: (visitor: Visitor) => Promise<void>,
    end: (error: ServerError) => void,
  ): Promise<void> {
    const requireStill = async () => require(await this.#visitor())
    // Before it is asked: what changes meanwhile must find it.
    const leave = this.#parts.openSockets.add({ requireStill, end })
    socket.on('close', leave)
    try {
      await requireStill()
    } catch (error) {
      leave()
      throw error
    }
  }

  #visitor(): Promise<Visitor> {
    return this.#parts.visitors.visitor(this.#opener.credentials)
  }
}
