import { ConfigError } from '../config-error.ts'
import type { Exposure } from './exposure.ts'

/** What the exposure asks of the accounts. */
export interface OwnerPassword {
  hasPassword(): Promise<boolean>
}

/**
 * Nobody but this computer may get in while the first account has no password.
 * @throws {ConfigError} when it has none
 */
export async function requireOwnerPassword(exposure: Exposure, people: OwnerPassword): Promise<void> {
  if (exposure === 'this computer' || (await people.hasPassword())) return
  throw new ConfigError(
    'The owner has no password yet, so others cannot be let in. With the same SWAYBOOK_DATA, set a password by ' +
      'npx swaybook owner-password, or put one into a file that SWAYBOOK_OWNER_PASSWORD_FILE names; then start again.',
  )
}
