import { createHash, randomBytes } from 'node:crypto'
import type { Pairing } from '#protocol/resources'

/** OWASP ASVS 5.0 7.2.3 asks for 128 random bits or more; the secret also survives being photographed. */
const SECRET_BYTES = 32

interface OpenPairing {
  readonly sessionId: string
  readonly expiresAtMs: number
}

export interface PairingsOptions {
  readonly lifetimeMs: number
  /** UTC ms. */
  readonly nowMs?: () => number
}

/**
 * The secrets that let one other device record a session. In memory alone, since they live for minutes and
 * a restart may end them, and only as SHA-256: what leaks from here opens nothing. A session has one open
 * pairing at a time, the newest.
 */
export class Pairings {
  readonly #lifetimeMs: number
  readonly #nowMs: () => number
  readonly #openByHash = new Map<string, OpenPairing>()

  constructor({ lifetimeMs, nowMs = Date.now }: PairingsOptions) {
    this.#lifetimeMs = lifetimeMs
    this.#nowMs = nowMs
  }

  /** A new secret for the session; an earlier one of the same session no longer works. */
  open(sessionId: string): Pairing {
    const nowMs = this.#nowMs()
    for (const [hash, pairing] of this.#openByHash) {
      if (pairing.sessionId === sessionId || pairing.expiresAtMs <= nowMs) this.#openByHash.delete(hash)
    }
    const secret = randomBytes(SECRET_BYTES).toString('base64url')
    const expiresAtMs = nowMs + this.#lifetimeMs
    this.#openByHash.set(hashOf(secret), { sessionId, expiresAtMs })
    return { secret, expiresAt: new Date(expiresAtMs).toISOString() }
  }

  /** The session of a secret, once; null for one that is unknown, used or too old. */
  redeem(secret: string): string | null {
    const hash = hashOf(secret)
    const pairing = this.#openByHash.get(hash)
    if (!pairing) return null
    this.#openByHash.delete(hash)
    return pairing.expiresAtMs > this.#nowMs() ? pairing.sessionId : null
  }
}

function hashOf(secret: string): string {
  return createHash('sha256').update(secret).digest('base64url')
}
