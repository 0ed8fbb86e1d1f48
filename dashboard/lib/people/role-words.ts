import type { Role } from '#protocol/people'

/** What each role may do, in the words every screen uses; `does` goes before the name of the dog. */
export const ROLE_WORDS: Record<Role, { name: string; does: string; may: string }> = {
  viewer: {
    name: 'Viewer',
    does: 'reads along with',
    may: 'Reads sessions, trends, plan, diary and report, and watches live. Changes nothing and exports nothing.',
  },
  therapist: {
    name: 'Therapist',
    does: 'treats',
    may:
      'Also sets the plan, records, corrects sessions, writes in the diary, exports, shares, and sees who changed ' +
      'what.',
  },
  owner: {
    name: 'Owner',
    does: 'owns',
    may: 'Also says who has access, changes and deletes the dog and its sessions.',
  },
}

/** From the one that may least. */
export const ROLES_RISING: readonly Role[] = ['viewer', 'therapist', 'owner']
