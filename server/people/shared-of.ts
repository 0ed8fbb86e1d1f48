import type { Shared } from '#protocol/people'
import type { OpenShareRecord } from '../store/people/shares.ts'

/** What a share tells the one who opened it. */
export function sharedOf({ dogName, dogId, scope, expiresAt }: OpenShareRecord): Shared {
  return {
    kind: scope.kind,
    dogName,
    dogId,
    ...(scope.kind === 'live' && { sessionId: scope.sessionId }),
    expiresAt,
  }
}
