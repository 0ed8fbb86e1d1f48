import type { Role } from '#protocol/people'
import { getContext, hasContext, setContext } from 'svelte'
import { Kept } from '../kept.svelte'
import { ApiError } from '../problem'
import { account } from './account.svelte'
import { listDogPeople } from './people-api'
import { onSignedIn } from './sign-in-moment'

const RANK: Record<Role, number> = { viewer: 1, therapist: 2, owner: 3 }

/** By person and dog, as the server said last, so that a start without a network knows it too. */
const kept = new Kept<{ of: Record<string, Role> }>('roles', { of: {} })

/** What is offered on a screen of a dog. */
export interface Access {
  /** Null while it is not known. */
  readonly role: Role | null
  /** Sets plans, records, corrects, writes, exports, shares. */
  readonly treats: boolean
  /** Changes and deletes the dog, and says who sees it. */
  readonly owns: boolean
  /** Only reads; known to be so. */
  readonly onlyReads: boolean
}

/**
 * What the person in front of this screen may do with one dog. The server decides each time; this decides
 * what is offered.
 */
export class DogAccess implements Access {
  readonly #dogId: () => string | undefined
  /** The server would not say: everything is offered, and it refuses what may not be. */
  #unknown = $state(false)

  constructor(dogId: () => string | undefined) {
    this.#dogId = dogId
  }

  readonly role: Role | null = $derived.by(() => {
    if (account.me === null || account.me.via === 'this computer') return 'owner'
    const dogId = this.#dogId()
    if (dogId === undefined) return null
    return kept.value.of[keyOf(dogId)] ?? (this.#unknown ? 'owner' : null)
  })

  readonly treats: boolean = $derived(this.role !== null && RANK[this.role] >= RANK.therapist)
  readonly owns: boolean = $derived(this.role === 'owner')
  readonly onlyReads: boolean = $derived(this.role === 'viewer')

  async ask(signal?: AbortSignal): Promise<void> {
    const dogId = this.#dogId()
    const own = account.me?.via === 'sign-in' ? account.me.person?.id : undefined
    if (dogId === undefined || own === undefined) return
    try {
      const role = (await listDogPeople(dogId, signal)).find(({ personId }) => personId === own)?.role
      const { [keyOf(dogId)]: before, ...others } = kept.value.of
      if (role === before && role !== undefined) return
      kept.value.of = role === undefined ? others : { ...others, [keyOf(dogId)]: role }
      kept.keep()
    } catch (error) {
      if (!(error instanceof ApiError)) throw error
      // A newer question is under way, or the screen is gone.
      if (signal?.aborted) return
      // Said by the screen itself, which asks the same server for the dog.
      this.#unknown = error.passing
    }
  }
}

/** Another person who signs in on this page has roles of their own. */
const keyOf = (dogId: string) => `${account.me?.person?.id ?? ''} ${dogId}`

const KEY = Symbol('access')
/** Of a part that stands on no screen of a dog. */
const EVERYTHING: Access = { role: 'owner', treats: true, owns: true, onlyReads: false }

/** That of the screen a component stands on. */
export const useAccess = (): Access => (hasContext(KEY) ? getContext<Access>(KEY) : EVERYTHING)

/** Known from before to only read this dog; for lists, which ask nothing about each. */
export const isKnownReader = (dogId: string): boolean =>
  account.me?.via === 'sign-in' && kept.value.of[keyOf(dogId)] === 'viewer'

/** The access of a screen and of all its parts, asked for when it appears and after somebody signed in. */
export function useDogAccess(dogId: () => string | undefined): DogAccess {
  const access = new DogAccess(dogId)
  setContext<Access>(KEY, access)
  $effect(() => {
    void dogId()
    void account.me
    const abort = new AbortController()
    void access.ask(abort.signal)
    const removeSignedIn = onSignedIn(() => void access.ask(abort.signal))
    return () => {
      removeSignedIn()
      abort.abort()
    }
  })
  return access
}
