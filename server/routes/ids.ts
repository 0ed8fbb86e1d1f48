import { randomBytes } from 'node:crypto'

/** A new id: 96 random bits, 16 characters that need no escaping in an address. */
export function newId(): string {
  return randomBytes(12).toString('base64url')
}
