import type { Me } from '#protocol/people'
import { ApiError } from '../problem'
import { browserStorage } from '../preferences.svelte'
import { forgetDogsOfThisDevice } from './forget-dogs'
import { tellOtherTabs, tellSignedIn } from './sign-in-moment'

const LAST_KNOWN = 'swaybook.me'

/**
 * Who uses this browser. Begins with what the server said last, so that a start without a network knows who
 * records; the newest answer replaces it.
 */
export class Account {
  /** Null until the server has ever said something to this browser. */
  me = $state.raw<Me | null>(lastKnown())
  /** The server has answered, cannot be reached or takes long: what `me` says is all there is for now. */
  asked = $state(false)
  /** Why the server could not be asked last; null when it answered. */
  problem = $state.raw<ApiError | null>(null)
  /** The sign-in ended while the page was in use: what is on the screen stays until somebody signs in. */
  ended = $state(false)

  /** True when a screen would only be told to sign in. */
  readonly mustSignIn: boolean = $derived(this.me !== null && this.me.person === null && !this.ended)

  /** Asks the server; what cannot be answered now leaves what is known. */
  async ask(load: () => Promise<Me>): Promise<void> {
    try {
      const me = await load()
      // In use already: the screen must not be taken away by an ended sign-in.
      if (this.asked && me.person === null && this.me?.person) this.ended = true
      else this.take(me)
      this.problem = null
    } catch (error) {
      // The last answer stands; every screen says for itself why the server gives none.
      if (!(error instanceof ApiError)) throw error
      this.problem = error
    }
    this.asked = true
  }

  /** Somebody signed in, or something about them changed. */
  take(me: Me): void {
    const before = this.me?.person?.id
    if (before !== undefined && me.person !== null && before !== me.person.id) void forgetDogsOfThisDevice()
    this.me = me
    this.ended = false
    remember(me)
  }

  /** The same, told to whatever waits for it. */
  signedIn(me: Me): void {
    this.take(me)
    tellSignedIn()
    tellOtherTabs('signed in')
  }

  noteRefusal(error: ApiError): void {
    if (error.signInFirst && this.asked && this.me?.person) this.ended = true
  }

  forget(): void {
    browserStorage()?.removeItem(LAST_KNOWN)
  }
}

function lastKnown(): Me | null {
  try {
    const me = JSON.parse(browserStorage()?.getItem(LAST_KNOWN) ?? 'null') as Me | null
    // Somebody who was signed in: anything else is asked anew.
    return me?.person?.id ? { ...me, shared: null } : null
  } catch {
    // Cut off, or not ours.
    return null
  }
}

function remember(me: Me): void {
  try {
    if (me.person) browserStorage()?.setItem(LAST_KNOWN, JSON.stringify(me))
    else browserStorage()?.removeItem(LAST_KNOWN)
  } catch (error) {
    // Full: the next start asks the server first.
    if (!(error instanceof DOMException)) throw error
  }
}

/** Of this browser. */
export const account = new Account()
