import { NOBODY, PAIRED_DEVICE, THIS_COMPUTER } from '../author.ts'
import type { Author } from '../store/changes.ts'
import type { OpenShareRecord } from '../store/people/shares.ts'

/** What a request brings along, as hashes of the secrets in its cookies. */
export interface Credentials {
  readonly signIn: string | null
  readonly share: string | null
  readonly paired: readonly string[]
}

export interface VisitingPerson {
  readonly id: string
  readonly name: string
  readonly keeper: boolean
  readonly via: 'this computer' | 'sign-in'
}

/** Whoever asks. A browser may be several at once: what any of them may, it may. */
export interface Visitor {
  readonly credentials: Credentials
  readonly person: VisitingPerson | null
  readonly share: OpenShareRecord | null
  /** Sessions it may record as a paired phone. */
  readonly pairedSessions: readonly string[]
}

export function isNobody({ person, share, pairedSessions }: Visitor): boolean {
  return person === null && share === null && pairedSessions.length === 0
}

/** As the trails name it. */
export function authorOf({ person, pairedSessions }: Visitor): Author {
  if (person) {
    const { id, name, via } = person
    return { name: via === 'this computer' ? THIS_COMPUTER.name : name, personId: id }
  }
  return pairedSessions.length > 0 ? PAIRED_DEVICE : NOBODY
}
