import { createHash, randomBytes } from 'node:crypto'
import type { FastifyReply, FastifyRequest } from 'fastify'
import type { Exposure } from '../exposure/exposure.ts'
import type { Credentials } from './visitor.ts'

/** OWASP ASVS 5.0 7.2.3 asks for 128 random bits or more. */
const SECRET_BYTES = 32
/** Sessions a phone may still have samples of: it sends the rest of one when it is paired with the next already. */
const MAX_PAIRED = 4

export type CookieName = 'swaybook_sign_in' | 'swaybook_share' | 'swaybook_paired'

export function newSecret(): string {
  return randomBytes(SECRET_BYTES).toString('base64url')
}

/** What is stored of a secret: of 256 random bits a plain hash is enough. */
export function hashOf(secret: string): string {
  return createHash('sha256').update(secret).digest('base64url')
}

/**
 * The cookies. Over HTTPS they are Secure under the prefix __Host-, so that no other host and no plain HTTP can set
 * one; on plain HTTP browsers refuse that prefix.
 */
export class Cookies {
  readonly #isSecure: boolean

  constructor(exposure: Exposure) {
    this.#isSecure = exposure !== 'this computer'
  }

  nameOf(cookie: CookieName): string {
    return this.#isSecure ? `__Host-${cookie}` : cookie
  }

  credentials({ cookies }: FastifyRequest): Credentials {
    const secretOf = (name: CookieName) => cookies[this.nameOf(name)] || null
    const [signIn, share] = [secretOf('swaybook_sign_in'), secretOf('swaybook_share')]
    return {
      signIn: signIn && hashOf(signIn),
      share: share && hashOf(share),
      paired: pairedSecrets(secretOf('swaybook_paired')).map(hashOf),
    }
  }

  set(reply: FastifyReply, name: CookieName, secret: string, maxAgeMs: number): void {
    void reply.setCookie(this.nameOf(name), secret, {
      ...this.#attributes,
      maxAge: Math.floor(maxAgeMs / 1000),
    })
  }

  /** Beside the pairings the phone has already, the newest first. */
  addPaired(request: FastifyRequest, reply: FastifyReply, secret: string, maxAgeMs: number): void {
    const known = pairedSecrets(request.cookies[this.nameOf('swaybook_paired')] ?? null)
    this.set(reply, 'swaybook_paired', [secret, ...known].slice(0, MAX_PAIRED).join('.'), maxAgeMs)
  }

  clear(reply: FastifyReply, name: CookieName): void {
    void reply.clearCookie(this.nameOf(name), this.#attributes)
  }

  get #attributes() {
    return { path: '/', httpOnly: true, sameSite: 'strict', secure: this.#isSecure } as const
  }
}

function pairedSecrets(value: string | null): string[] {
  return value === null ? [] : value.split('.').filter(Boolean).slice(0, MAX_PAIRED)
}
