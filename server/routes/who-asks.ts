import type { FastifyRequest } from 'fastify'

/** Whom a share of what is scarce is counted for: the person, and the address of one who is none. */
export function whoAsks({ ip, visitor }: FastifyRequest): string {
  return visitor.person?.id ?? ip
}
