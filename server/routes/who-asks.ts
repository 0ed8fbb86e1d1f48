import type { FastifyRequest } from 'fastify'

/**
 * Whom a share of what is scarce is counted for: the person, whichever address they come from; the share link or the
 * session of a phone that came by one; and the address of one who is nobody.
 */
export function whoAsks({ ip, visitor: { person, share, pairedSessions } }: FastifyRequest): string {
  if (person) return person.id
  if (share) return `share ${share.id}`
  return pairedSessions.length > 0 ? `phone ${pairedSessions[0]}` : ip
}
