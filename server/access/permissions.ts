import { ROLES } from '#protocol/people'
import type { Role } from '#protocol/people'
import { ServerError } from '../errors.ts'
import type { RoleRecords } from '../store/people/roles.ts'
import type { Visitor } from './visitor.ts'

/** Answers whether somebody may do something, always from what is stored at that moment. */
export class Permissions {
  readonly #roles: RoleRecords

  constructor(roles: RoleRecords) {
    this.#roles = roles
  }

  /**
   * @param missing what to say of a dog that does not exist; one that somebody has no role with is the same
   * @throws {ServerError}
   */
  async requireRole(
    { person }: Visitor,
    dogId: string | null,
    role: Role,
    missing: () => ServerError,
  ): Promise<void> {
    if (!person) throw new ServerError('SIGN_IN_FIRST')
    const has = dogId === null ? null : await this.#roles.role(person.id, dogId)
    if (!has) throw missing()
    if (ROLES.indexOf(has) > ROLES.indexOf(role)) throw new ServerError('ROLE_TOO_LOW', { role })
  }

  /** The same by a session of the dog. */
  async requireRoleOfSession(
    visitor: Visitor,
    sessionId: string,
    role: Role,
    missing: () => ServerError,
  ): Promise<void> {
    if (!visitor.person) throw new ServerError('SIGN_IN_FIRST')
    return this.requireRole(visitor, await this.#roles.dogOfSession(sessionId), role, missing)
  }

  /** Recording a session: therapists and owners of the dog, and the phone paired with it. */
  async requireSending(visitor: Visitor, sessionId: string): Promise<void> {
    if (visitor.pairedSessions.includes(sessionId)) return
    const missing = () => new ServerError('SESSION_UNKNOWN', { sessionId })
    return this.requireRoleOfSession(visitor, sessionId, 'therapist', missing)
  }

  /** Watching a session: people of the dog, and whoever opened a link that shares it. */
  async requireWatching(visitor: Visitor, sessionId: string): Promise<void> {
    const { share } = visitor
    if (share?.scope.kind === 'live' && share.scope.sessionId === sessionId) return
    const missing = () => new ServerError('SESSION_UNKNOWN', { sessionId })
    return this.requireRoleOfSession(visitor, sessionId, 'viewer', missing)
  }

  /** Marking while watching: what a share shows cannot be changed by it. */
  async requireMarking(visitor: Visitor, sessionId: string): Promise<void> {
    const missing = () => new ServerError('SESSION_UNKNOWN', { sessionId })
    return this.requireRoleOfSession(visitor, sessionId, 'therapist', missing)
  }
}
