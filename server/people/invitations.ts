import type { AcceptInvitation, InvitationSeen } from '#protocol/people'
import { hashOf } from '../access/cookies.ts'
import type { FastifyRequest } from 'fastify'
import type { Visitor } from '../access/visitor.ts'
import { ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'
import { newId } from '../routes/ids.ts'
import type { FoundInvitation } from '../store/people/invitations.ts'
import type { People } from '../store/people/people.ts'
import { checkPassword } from './password-rules.ts'
import type { SignIns } from './sign-ins.ts'
import { unlessTaken } from './unless-taken.ts'

/** Where it is told of. */
type Asking = Pick<FastifyRequest, 'log' | 'ip'>

/** What a link does for whoever has it. */
export class Invitations {
  readonly #people: People
  readonly #signIns: SignIns

  constructor(people: People, signIns: SignIns) {
    this.#people = people
    this.#signIns = signIns
  }

  /** @throws {ServerError} for a secret that does not work */
  async look(secret: string): Promise<InvitationSeen> {
    const found = await this.#found(secret)
    const { invitedBy, expiresAt } = found
    return found.kind === 'reset'
      ? { dogName: null, role: null, invitedBy, expiresAt, reset: true }
      : { dogName: found.dogName, role: found.role, invitedBy, expiresAt, reset: false }
  }

  /** Gives the person to sign in; null when who asks is in already, or has to show a second factor. */
  async accept(asked: AcceptInvitation, { person }: Visitor, from: Asking): Promise<string | null> {
    const found = await this.#found(asked.secret)
    if (found.kind === 'reset') return this.#reset(asked, from)
    if (asked.password !== undefined) return this.#join(asked, asked.password, from)
    if (!person) throw new ServerError('SIGN_IN_FIRST')
    const { invitations } = this.#people
    if (!(await invitations.accept(hashOf(asked.secret), new Date(), { id: person.id }))) {
      throw new ServerError('INVITATION_NOT_VALID')
    }
    tell(from.log, 'invitation.used', { by: person.id, address: from.ip })
    return null
  }

  async #join(
    { secret, signInName, name }: AcceptInvitation,
    password: string,
    { log, ip: address }: Asking,
  ): Promise<string> {
    if (signInName === undefined || name === undefined) {
      throw incomplete('A new account needs signInName, name and password.')
    }
    checkPassword(password, signInName)
    const passwordHash = await this.#signIns.passwords.hash(password)
    const joining = { id: newId(), signInName, name, passwordHash }
    const { invitations } = this.#people
    if (!(await unlessTaken(invitations.accept(hashOf(secret), new Date(), joining)))) {
      throw new ServerError('INVITATION_NOT_VALID')
    }
    tell(log, 'account.joined', { by: joining.id, address })
    tell(log, 'invitation.used', { by: joining.id, address })
    return joining.id
  }

  async #reset({ secret, password }: AcceptInvitation, { log, ip }: Asking): Promise<string | null> {
    if (password === undefined) throw incomplete('A link that sets a password needs one: send password.')
    const found = await this.#found(secret)
    const person = found.kind === 'reset' ? await this.#people.person(found.personId) : null
    if (!person) throw new ServerError('INVITATION_NOT_VALID')
    checkPassword(password, person.signInName)
    const passwordHash = await this.#signIns.passwords.hash(password)
    const id = await this.#people.invitations.acceptReset(hashOf(secret), new Date(), passwordHash)
    if (id === null) throw new ServerError('INVITATION_NOT_VALID')
    tell(log, 'password.reset', { person: id, address: ip })
    // The link replaces the password, not the second factor; and an account that is locked stays so.
    return person.secondFactor?.confirmed || person.lockedAt !== null ? null : id
  }

  async #found(secret: string): Promise<FoundInvitation> {
    const found = await this.#people.invitations.find(hashOf(secret), new Date())
    if (!found) throw new ServerError('INVITATION_NOT_VALID')
    return found
  }
}

function incomplete(reason: string): ServerError {
  return new ServerError('INVITATION_INCOMPLETE', { reason })
}
