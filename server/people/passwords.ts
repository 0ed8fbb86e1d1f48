import { hash, verify } from '@node-rs/argon2'
import { ServerError } from '../errors.ts'

/**
 * Argon2id with 19 MiB, two passes, one lane: OWASP Password Storage Cheat Sheet. The algorithm is the library's
 * default and stands in each hash, as these figures do.
 */
const COST = { memoryCost: 19 * 1024, timeCost: 2, parallelism: 1 }
/** Hashes made at the same time: each takes 19 MiB and a thread that analyses need, too. */
const AT_ONCE = 2
/** Waiting for their turn; beyond it a flood is told to come back. */
const MAX_WAITING = 100

/** Makes and checks hashes of passwords, two at a time. */
export class Passwords {
  #running = 0
  readonly #waiting: (() => void)[] = []
  #dummy: Promise<string> | null = null

  hash(password: string): Promise<string> {
    return this.#inTurn(() => hash(normalised(password), COST))
  }

  /** Takes the same work without a hash: how long the answer takes must not tell who has an account. */
  async verify(stored: string | null, password: string): Promise<boolean> {
    const against = stored ?? (await this.#dummyHash())
    const fits = await this.#inTurn(() => verify(against, normalised(password)))
    return fits && stored !== null
  }

  #dummyHash(): Promise<string> {
    this.#dummy ??= hash('nobody has this password', COST)
    return this.#dummy
  }

  async #inTurn<T>(work: () => Promise<T>): Promise<T> {
    if (this.#waiting.length >= MAX_WAITING) throw new ServerError('SIGN_IN_BUSY')
    if (this.#running >= AT_ONCE) await new Promise<void>((resolve) => this.#waiting.push(resolve))
    else this.#running++
    try {
      return await work()
    } finally {
      const next = this.#waiting.shift()
      if (next) next()
      else this.#running--
    }
  }
}

/** Keyboards compose letters in different ways: one password, whatever it was typed on (NIST SP 800-63B-4). */
export function normalised(password: string): string {
  return password.normalize('NFKC')
}
