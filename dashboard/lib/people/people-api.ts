import type {
  AcceptInvitation,
  DogPerson,
  Invitation,
  InvitationMade,
  InvitationSeen,
  Me,
  MeChange,
  NewInvitation,
  NewPassword,
  NewShare,
  Person,
  ResetLink,
  Role,
  SecondFactorOffer,
  SecondFactorSet,
  SecurityEventPage,
  Share,
  SharedReport,
  SharedSession,
  ShareMade,
  ShareOpened,
  SignedInDevice,
  SignIn,
} from '#protocol/people'
import { read, write } from '../request'

/** One function per call about people, who may see what, and links. All throw an ApiError. */

export const loadMe = (signal?: AbortSignal) => read<Me>('/api/me', signal)
export const signIn = (typed: SignIn) => write<Me>('POST', '/api/sign-in', typed)
export const signOut = () => write<void>('POST', '/api/sign-out')
export const changeMe = (change: MeChange) => write<Me>('PATCH', '/api/me', change)

/** The first password too: then without `current`. */
export const savePassword = (typed: NewPassword) => write<Me>('PUT', '/api/me/password', typed)

export const startSecondFactor = () => write<SecondFactorOffer>('POST', '/api/me/second-factor')
/** With a code of the device that was set up; the recovery codes are told here and nowhere else. */
export const confirmSecondFactor = (code: string) =>
  write<SecondFactorSet>('PUT', '/api/me/second-factor', { code })
export const removeSecondFactor = (password: string) =>
  write<void>('DELETE', '/api/me/second-factor', { password })

export const listSignIns = (signal?: AbortSignal) => read<SignedInDevice[]>('/api/me/sign-ins', signal)
export const endSignIn = (signInId: string) => write<void>('DELETE', `/api/me/sign-ins/${id(signInId)}`)
/** All but the one of this browser. */
export const endOtherSignIns = () => write<void>('DELETE', '/api/me/sign-ins')

export const listPeople = (signal?: AbortSignal) => read<Person[]>('/api/people', signal)
export const lockPerson = (personId: string, locked: boolean) =>
  write<Person>('PATCH', `/api/people/${id(personId)}`, { locked })
export const removePerson = (personId: string) => write<void>('DELETE', `/api/people/${id(personId)}`)
export const makeResetLink = (personId: string) =>
  write<ResetLink>('POST', `/api/people/${id(personId)}/reset-link`)

export const listDogPeople = (dogId: string, signal?: AbortSignal) =>
  read<DogPerson[]>(`${dogUrl(dogId)}/people`, signal)
export const changeRole = (dogId: string, personId: string, role: Role) =>
  write<void>('PUT', `${dogUrl(dogId)}/people/${id(personId)}`, { role })
export const removeFromDog = (dogId: string, personId: string) =>
  write<void>('DELETE', `${dogUrl(dogId)}/people/${id(personId)}`)

export const makeInvitation = (dogId: string, invitation: NewInvitation) =>
  write<InvitationMade>('POST', `${dogUrl(dogId)}/invitations`, invitation)
export const listInvitations = (dogId: string, signal?: AbortSignal) =>
  read<Invitation[]>(`${dogUrl(dogId)}/invitations`, signal)
export const withdrawInvitation = (dogId: string, invitationId: string) =>
  write<void>('DELETE', `${dogUrl(dogId)}/invitations/${id(invitationId)}`)
/** What a link of an invitation or of a new password holds; does not use it up. */
export const lookAtInvitation = (secret: string) =>
  write<InvitationSeen>('POST', '/api/invitations/look', { secret })
export const acceptInvitation = (acceptance: AcceptInvitation) =>
  write<Me>('POST', '/api/invitations/accept', acceptance)

export const makeShare = (dogId: string, share: NewShare) =>
  write<ShareMade>('POST', `${dogUrl(dogId)}/shares`, share)
export const listShares = (dogId: string, signal?: AbortSignal) =>
  read<Share[]>(`${dogUrl(dogId)}/shares`, signal)
export const revokeShare = (dogId: string, shareId: string) =>
  write<void>('DELETE', `${dogUrl(dogId)}/shares/${id(shareId)}`)
export const openShare = (secret: string) => write<ShareOpened>('POST', '/api/shares/open', { secret })

export const loadSharedSession = (signal?: AbortSignal) => read<SharedSession>('/api/shared/session', signal)
export const loadSharedReport = (signal?: AbortSignal) => read<SharedReport>('/api/shared/report', signal)

/** Of the whole installation, newest first, by pages. */
export function listTrail(
  page: { cursor?: string; limit?: number } = {},
  signal?: AbortSignal,
): Promise<SecurityEventPage> {
  const query = new URLSearchParams({
    ...(page.limit !== undefined && { limit: String(page.limit) }),
    ...(page.cursor !== undefined && { cursor: page.cursor }),
  })
  return read<SecurityEventPage>(`/api/audit?${query}`, signal)
}

const id = encodeURIComponent
const dogUrl = (dogId: string) => `/api/dogs/${id(dogId)}`
