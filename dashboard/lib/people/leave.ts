import { unsentSessions } from '../../recorder/unsent.svelte'
import { forgetVisit } from '../../sources/phone/phone-visit'
import { forgetDogsOfThisDevice } from './forget-dogs'
import { signOut } from './people-api'
import { tellOtherTabs } from './sign-in-moment'

/**
 * Signs out, then takes from this device what it kept of dogs: the server first, so that nothing is forgotten
 * by somebody who stays signed in.
 *
 * @param discard streams of unsent recordings that a person said may go; all others stay
 */
export async function leave({ discard }: { discard: readonly string[] }): Promise<void> {
  await signOut()
  for (const stream of discard) await unsentSessions.discard(stream)
  forgetVisit()
  await forgetDogsOfThisDevice()
  tellOtherTabs('signed out')
}
