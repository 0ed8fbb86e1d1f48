import type { Invitation, Role } from '#protocol/people'
import type { Author } from '../changes.ts'

export interface NewInvitationRecord {
  readonly id: string
  readonly dogId: string
  readonly role: Role
  readonly note: string | null
  readonly secretHash: string
  readonly expiresAt: string
}

/** What a link is for: a role with a dog, or a new password. */
export type FoundInvitation =
  | {
      readonly kind: 'role'
      readonly dogId: string
      readonly dogName: string
      readonly role: Role
      readonly invitedBy: string
      readonly expiresAt: string
    }
  | {
      readonly kind: 'reset'
      readonly personId: string
      readonly invitedBy: string
      readonly expiresAt: string
    }

export interface NewPerson {
  readonly id: string
  readonly signInName: string
  readonly name: string
  readonly passwordHash: string
}

/** Links that work once: an invitation is gone when it was used, and so is one that is too old. */
export interface InvitationRecords {
  add(invitation: NewInvitationRecord, by: Author): Promise<Invitation>
  /** Those that still work, newest first. */
  ofDog(dogId: string, now: Date): Promise<Invitation[]>
  withdraw(dogId: string, id: string, by: Author): Promise<boolean>
  find(secretHash: string, now: Date): Promise<FoundInvitation | null>
  /**
   * Gives the person the role, unless it has a higher one; a person who is new comes with it. False when the link
   * stopped working meanwhile.
   * @throws {SignInNameTakenError}
   */
  accept(secretHash: string, now: Date, person: NewPerson | { readonly id: string }): Promise<boolean>
  /** Replaces an earlier link for the same person; false without such a person. */
  addReset(
    link: Pick<NewInvitationRecord, 'id' | 'secretHash' | 'expiresAt'> & { readonly personId: string },
    by: Author,
  ): Promise<boolean>
  /** Sets the password of the one the link is for, ending all its sign-ins; gives its id. */
  acceptReset(secretHash: string, now: Date, passwordHash: string): Promise<string | null>
  /** Invitations and links for a new password past their end. */
  removeOver(now: Date): Promise<void>
}
