import { isDiskFailure } from '../store/disk-failure.ts'
import type { PassRecord } from '../store/people/passes.ts'
import type { People, PersonRecord } from '../store/people/people.ts'
import type { Credentials, VisitingPerson, Visitor } from './visitor.ts'

/** A sign-in that nobody used for so long is over. */
export const SIGN_IN_IDLE_MS = 14 * 86_400_000
/** When a pass was seen is written this often at most: each time costs a flush to the disk. */
const TOUCH_MS = 5 * 60_000

export interface VisitorsOptions {
  /** Whether only this computer can reach the server: then its owner needs no password. */
  readonly onlyThisComputer: boolean
  /** UTC ms. */
  readonly nowMs?: () => number
}

/** Who stands behind the cookies of a request, as of now: nothing is kept from one request to the next. */
export class Visitors {
  readonly #people: People
  readonly #onlyThisComputer: boolean
  readonly #nowMs: () => number

  constructor(people: People, { onlyThisComputer, nowMs = Date.now }: VisitorsOptions) {
    this.#people = people
    this.#onlyThisComputer = onlyThisComputer
    this.#nowMs = nowMs
  }

  async visitor(credentials: Credentials): Promise<Visitor> {
    const share = await this.#pass(credentials.share, ['share'])
    const paired = await Promise.all(credentials.paired.map((hash) => this.#pass(hash, ['paired'])))
    return {
      credentials,
      person: (await this.#signedIn(credentials.signIn)) ?? (await this.#thisComputer()),
      share: share && (await this.#people.shares.find(share.shareId!, new Date(this.#nowMs()))),
      pairedSessions: paired.flatMap((pass) => (pass ? [pass.sessionId!] : [])),
    }
  }

  async #signedIn(hash: string | null): Promise<VisitingPerson | null> {
    const pass = await this.#pass(hash, ['sign-in', 'demo'])
    const person = pass && (await this.#people.person(pass.personId!))
    if (!pass || !person || person.lockedAt !== null) return null
    const nowMs = this.#nowMs()
    if (nowMs - pass.lastSeenAtMs >= TOUCH_MS) {
      // Whoever only reads can do so while the disk is full: when they were seen is not worth refusing it.
      await this.#people.passes.touch(pass.hash, nowMs).catch((error: unknown) => {
        if (!isDiskFailure(error)) throw error
      })
    }
    // While nobody has to sign in, the demo is told in the trail as everybody is.
    const isThisComputer = pass.kind === 'demo' && person.passwordHash === null
    return visiting(person, isThisComputer ? 'this computer' : 'sign-in')
  }

  async #thisComputer(): Promise<VisitingPerson | null> {
    if (!this.#onlyThisComputer) return null
    const keeper = await this.#people.keeper()
    return keeper.passwordHash === null ? visiting(keeper, 'this computer') : null
  }

  async #pass(hash: string | null, kinds: readonly PassRecord['kind'][]): Promise<PassRecord | null> {
    const pass = hash === null ? null : await this.#people.passes.find(hash)
    if (!pass || !kinds.includes(pass.kind)) return null
    const nowMs = this.#nowMs()
    const isIdle = pass.kind === 'sign-in' && nowMs - pass.lastSeenAtMs >= SIGN_IN_IDLE_MS
    return pass.expiresAtMs > nowMs && !isIdle ? pass : null
  }
}

function visiting({ id, name, keeper }: PersonRecord, via: VisitingPerson['via']): VisitingPerson {
  return { id, name, keeper, via }
}
