import { dictionary } from '@zxcvbn-ts/language-common'
import type { PasswordWeakness } from '#protocol/people'
import { ServerError } from '../errors.ts'
import { signInKey } from '../store/people/people.ts'
import { normalised } from './passwords.ts'

const MIN_CODE_POINTS = 8
const MAX_CODE_POINTS = 128

/** Passwords that many people have: the first an attacker tries. */
const COMMON: ReadonlySet<string> = new Set(dictionary['passwords-common'] as readonly string[])

/**
 * What is wrong with a password, null for nothing. Length and commonness only, as NIST SP 800-63B-4 and OWASP ASVS 5.0
 * 6.2 have it: rules on its characters make passwords worse.
 */
export function weaknessOf(password: string, signInName: string): PasswordWeakness | null {
  const text = normalised(password)
  const codePoints = [...text].length
  if (codePoints < MIN_CODE_POINTS) return 'too short'
  if (codePoints > MAX_CODE_POINTS) return 'too long'
  const lower = text.toLowerCase()
  if (COMMON.has(lower)) return 'common'
  const name = signInKey(signInName)
  // The name of an e-mail address is the part people put into passwords.
  const isInside = [name, name.split('@')[0]].some((part) => part.length >= 3 && lower.includes(part))
  return isInside ? 'contains the sign-in name' : null
}

/** @throws {ServerError} saying why, in words and as `reason` */
export function checkPassword(password: string, signInName: string): void {
  const reason = weaknessOf(password, signInName)
  if (reason !== null)
    throw new ServerError('PASSWORD_WEAK', { words: WORDS[reason] }, { extras: { reason } })
}

const WORDS: Record<PasswordWeakness, string> = {
  'too short': `too short: use ${MIN_CODE_POINTS} characters or more, some words for example`,
  'too long': `too long: use ${MAX_CODE_POINTS} characters or fewer`,
  common: 'one that many people have, and so the first that is tried',
  'contains the sign-in name': 'made with the sign-in name, which others know',
}
