import type { FastifyReply, FastifyRequest } from 'fastify'
import type { Me } from '#protocol/people'
import { hashOf, newSecret } from '../access/cookies.ts'
import type { Cookies } from '../access/cookies.ts'
import type { Visitor } from '../access/visitor.ts'
import type { Visitors } from '../access/visitors.ts'
import { NOBODY } from '../author.ts'
import { ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'
import { signInKey } from '../store/people/people.ts'
import type { People, PersonRecord } from '../store/people/people.ts'
import { newId } from '../routes/ids.ts'
import { deviceName } from './device-name.ts'
import { LockOut } from './lock-out.ts'
import { Passwords } from './passwords.ts'
import { recoveryHash, stepOf } from './second-factor.ts'
import { sharedOf } from './shared-of.ts'

/** Longest time until one has to sign in again, used or not. */
const SIGN_IN_MS = 90 * 86_400_000

/** Where it is told of. */
type Asking = Pick<FastifyRequest, 'log' | 'ip'>

/** So many browsers of one account at a time; beyond that the one not used for longest has to sign in again. */
export const MAX_SIGN_INS = 20

export interface SignInsParts {
  readonly people: People
  readonly cookies: Cookies
  readonly visitors: Visitors
  readonly onlyThisComputer: boolean
}

/** Proves who somebody is, and lets them in. */
export class SignIns {
  readonly passwords = new Passwords()
  readonly #parts: SignInsParts
  readonly #lockOut: LockOut

  constructor(parts: SignInsParts, lockOut = new LockOut()) {
    this.#parts = parts
    this.#lockOut = lockOut
  }

  /**
   * The person of a name and a password, and the code where one is asked for.
   * @throws {ServerError} SIGN_IN_FAILED whatever it was, but CODE_NEEDED when the code alone is missing
   */
  async prove(
    signInName: string,
    password: string,
    code: string | undefined,
    from: Asking,
  ): Promise<PersonRecord> {
    const person = await this.#parts.people.named(signInName)
    await this.#attempt(signInName, person, from, async () => {
      const fits = await this.passwords.verify(person?.passwordHash ?? null, password)
      if (!fits || !person || person.lockedAt !== null) return false
      if (!person.secondFactor?.confirmed) return true
      if (code === undefined) {
        tell(from.log, 'sign-in.failed', { person: person.id, address: from.ip, problem: 'CODE_NEEDED' })
        throw new ServerError('CODE_NEEDED')
      }
      return this.#codeFits(person, code)
    })
    return person!
  }

  /**
   * That the one who is in knows the password: before it is changed, and before a second factor goes.
   * @throws {ServerError}
   */
  async proveAgain(person: PersonRecord, password: string | undefined, from: Asking): Promise<void> {
    await this.#attempt(person.signInName, person, from, () =>
      this.passwords.verify(person.passwordHash, password ?? ''),
    )
  }

  /** A new secret for whoever was let in; what the browser had before ends. */
  async admit(request: FastifyRequest, reply: FastifyReply, personId: string): Promise<string> {
    const { people, cookies } = this.#parts
    const before = request.visitor.credentials.signIn
    if (before !== null) await people.passes.remove(before)
    const secret = newSecret()
    const nowMs = Date.now()
    await people.passes.add({
      hash: hashOf(secret),
      id: newId(),
      kind: 'sign-in',
      personId,
      shareId: null,
      sessionId: null,
      device: deviceName(request.headers['user-agent']),
      createdAtMs: nowMs,
      expiresAtMs: nowMs + SIGN_IN_MS,
    })
    await people.passes.keepNewest(personId, MAX_SIGN_INS)
    cookies.set(reply, 'swaybook_sign_in', secret, SIGN_IN_MS)
    return hashOf(secret)
  }

  /** What GET /api/me says; `signIn` of a sign-in that began or ended with this request. */
  async me(visitor: Visitor, signIn = visitor.credentials.signIn): Promise<Me> {
    const { people, visitors, onlyThisComputer } = this.#parts
    const { person, share } = await visitors.visitor({ ...visitor.credentials, signIn })
    const record = person && (await people.person(person.id))
    return {
      person: record && {
        id: record.id,
        name: record.name,
        signInName: record.signInName,
        keeper: record.keeper,
        hasSecondFactor: record.secondFactor?.confirmed ?? false,
      },
      via: person?.via ?? null,
      passwordSet: await people.hasPassword(),
      demo: onlyThisComputer && (record?.keeper ?? false),
      shared: share && sharedOf(share),
    }
  }

  async #attempt(
    signInName: string,
    person: PersonRecord | null,
    { log, ip: address }: Asking,
    proof: () => Promise<boolean>,
  ) {
    const key = signInKey(signInName)
    const waitS = this.#lockOut.waitS(key)
    if (waitS > 0) throw new ServerError('SIGN_IN_LOCKED', { seconds: waitS }, { retryAfterS: waitS })
    const isLocked = this.#lockOut.attempted(key)
    const isProven = await proof().catch((error: unknown) => {
      this.#lockOut.undo(key)
      throw error
    })
    if (isProven) return this.#lockOut.succeeded(key)
    // A name nobody has may be a password in the wrong field: it is not written down.
    const detail = person ? { person: person.name } : { person: null }
    const who = { person: person?.id, address }
    tell(log, 'sign-in.failed', { ...who, problem: 'SIGN_IN_FAILED' })
    if (isLocked) tell(log, 'sign-in.locked', who)
    const { events } = this.#parts.people
    await events.tell({ action: 'sign-in.failed', detail }, NOBODY)
    if (isLocked) await events.tell({ action: 'sign-in.locked', detail }, NOBODY)
    throw new ServerError('SIGN_IN_FAILED')
  }

  async #codeFits(person: PersonRecord, code: string): Promise<boolean> {
    const { people } = this.#parts
    const step = stepOf(person.secondFactor!.secret, code, Date.now())
    if (step !== null) return people.useStep(person.id, step)
    const by = { name: person.name, personId: person.id }
    return people.useRecoveryCode(person.id, recoveryHash(code), by)
  }
}
