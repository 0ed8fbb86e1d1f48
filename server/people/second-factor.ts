import { randomInt } from 'node:crypto'
import { Secret, TOTP } from 'otpauth'
import { hashOf } from '../access/cookies.ts'

/** RFC 6238 as authenticators know it: SHA-1, six digits, 30 s. RFC 4226 asks for 160 bits. */
const SECRET_BYTES = 20
const PERIOD_S = 30
/** Steps before and after the present one whose codes are taken: clocks differ, and people type (RFC 6238 §5.2). */
const WINDOW = 1
const RECOVERY_CODES = 8
/**
 * Without letters and digits that look alike: 4 × 6 of 31 characters are 118 bits. From 112 on a plain hash is enough
 * (OWASP ASVS 5.0 6.5.2), as for the other secrets.
 */
const GROUPS = 4
const GROUP_CHARACTERS = 6
const ALPHABET = 'abcdefghjkmnpqrstuvwxyz23456789'

export function offeredFactor(signInName: string): { secret: string; uri: string } {
  const secret = new Secret({ size: SECRET_BYTES })
  return { secret: secret.base32, uri: totpOf(secret, signInName).toString() }
}

/** The time step a code belongs to; null for one that is not of now. */
export function stepOf(secret: string, code: string, nowMs: number): number | null {
  const token = code.replace(/\s/g, '')
  if (!/^\d{6}$/.test(token)) return null
  const delta = totpOf(Secret.fromBase32(secret)).validate({ token, timestamp: nowMs, window: WINDOW })
  return delta === null ? null : Math.floor(nowMs / 1000 / PERIOD_S) + delta
}

export function newRecoveryCodes(): string[] {
  const character = () => ALPHABET[randomInt(ALPHABET.length)]
  const group = () => Array.from({ length: GROUP_CHARACTERS }, character).join('')
  const code = () => Array.from({ length: GROUPS }, group).join('-')
  return Array.from({ length: RECOVERY_CODES }, code)
}

/** However it was typed. */
export function recoveryHash(code: string): string {
  return hashOf(code.toLowerCase().replace(/[^a-z0-9]/g, ''))
}

function totpOf(secret: Secret, label = 'Swaybook'): TOTP {
  return new TOTP({ issuer: 'Swaybook', label, algorithm: 'SHA1', digits: 6, period: PERIOD_S, secret })
}
