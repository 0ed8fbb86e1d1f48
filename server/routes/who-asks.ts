import type { FastifyRequest } from 'fastify'

/** Whom a share of what is scarce is counted for: the address, as long as nobody signs in. */
export function whoAsks({ ip }: FastifyRequest): string {
  return ip
}
