import type { Role } from '#protocol/people'

/** Where a request names the dog it is about: itself, or by one of its sessions. */
export type DogPlace = 'params.dogId' | 'params.sessionId' | 'body.dogId'

/** Who may use a route. Every route under /api has one; without it the server does not start. */
export type Access =
  /** With the reason why nobody needs to be asked who they are. */
  | { readonly who: 'anyone'; readonly because: string }
  | { readonly who: 'signed in' }
  /** The person who looks after this installation. */
  | { readonly who: 'keeper' }
  /** People with this role with the dog, or a higher one; and, where it says so, the phone paired with the session. */
  | {
      readonly who: 'people of the dog'
      readonly role: Role
      readonly at: DogPlace
      readonly orPairedDevice: boolean
    }
  /** Whoever opened a share link of this kind. */
  | { readonly who: 'share'; readonly kind: 'live' | 'report' }
  /** A live socket: it asks `Permissions` itself, since only its messages say what it wants. */
  | { readonly who: 'socket' }

declare module 'fastify' {
  interface FastifyContextConfig {
    access?: Access
  }
}

export const anyone = (because: string): Access => ({ who: 'anyone', because })
export const SIGNED_IN: Access = { who: 'signed in' }
export const KEEPER: Access = { who: 'keeper' }
export const ASKED_IN_SOCKET: Access = { who: 'socket' }
export const forDog = (role: Role): Access => rule(role, 'params.dogId')
export const forDogOfSession = (role: Role): Access => rule(role, 'params.sessionId')
export const forDogInBody = (role: Role): Access => rule(role, 'body.dogId')
export const forShare = (kind: 'live' | 'report'): Access => ({ who: 'share', kind })

/** The same for the phone that a session was handed to. */
export function orPairedDevice(access: Access): Access {
  return access.who === 'people of the dog' ? { ...access, orPairedDevice: true } : access
}

function rule(role: Role, at: DogPlace): Access {
  return { who: 'people of the dog', role, at, orPairedDevice: false }
}
