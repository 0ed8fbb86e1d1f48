import type { Author } from '../store/changes.ts'
import type { People, PersonRecord } from '../store/people/people.ts'
import { checkPassword } from './password-rules.ts'
import { Passwords } from './passwords.ts'

/**
 * Sets somebody's password for whoever runs the installation, by the rules of the screens: the person's sign-ins end,
 * and so do links that would set another one. The trail of the installation tells it.
 * @throws {ServerError} PASSWORD_WEAK, saying why
 */
export async function setPasswordOf(
  people: People,
  { id, signInName }: PersonRecord,
  password: string,
  by: Author,
): Promise<void> {
  checkPassword(password, signInName)
  await people.setPassword(id, { passwordHash: await new Passwords().hash(password) }, by)
}
