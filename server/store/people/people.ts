import type { Author } from '../changes.ts'
import type { InvitationRecords } from './invitations.ts'
import type { PassRecords } from './passes.ts'
import type { RoleRecords } from './roles.ts'
import type { SecurityEvents } from './security-events.ts'
import type { ShareRecords } from './shares.ts'

/** An account. */
export interface PersonRecord {
  readonly id: string
  readonly signInName: string
  readonly name: string
  /** The first person: looks after this installation. */
  readonly keeper: boolean
  readonly passwordHash: string | null
  readonly secondFactor: SecondFactor | null
  readonly lockedAt: string | null
  readonly createdAt: string
  readonly lastSeenAt: string | null
}

export interface SecondFactor {
  /** Base32. */
  readonly secret: string
  /** False while it is only offered: nothing is asked for then. */
  readonly confirmed: boolean
}

/** Another account has this sign-in name. */
export class SignInNameTakenError extends Error {
  override readonly name = 'SignInNameTakenError'
}

export interface Names {
  readonly signInName?: string
  readonly name?: string
}

export interface PasswordChange extends Names {
  readonly passwordHash: string
  /** Hash of the pass that stays; all others of the person end. */
  readonly keep?: string
}

/**
 * Accounts and what belongs to them. A promise resolves once the change is durable; every change is in the trail
 * of the installation from the same moment on, and in that of the dog it is about.
 */
export interface People {
  readonly roles: RoleRecords
  readonly passes: PassRecords
  readonly invitations: InvitationRecords
  readonly shares: ShareRecords
  readonly events: SecurityEvents

  /** Whether the first person has one: then everybody signs in. */
  hasPassword(): Promise<boolean>
  /** The first person. */
  keeper(): Promise<PersonRecord>
  person(id: string): Promise<PersonRecord | null>
  /** Whatever the case of the name. */
  named(signInName: string): Promise<PersonRecord | null>
  /** The first one first. */
  all(): Promise<PersonRecord[]>
  /**
   * False without such a person.
   * @throws {SignInNameTakenError}
   */
  rename(id: string, names: Names, by: Author): Promise<boolean>
  /**
   * Ends the person's other sign-ins and the links that would reset the password.
   * @throws {SignInNameTakenError}
   */
  setPassword(id: string, change: PasswordChange, by: Author): Promise<boolean>
  /** Replaces an offer that was never confirmed. */
  offerSecondFactor(id: string, secret: string): Promise<boolean>
  /** False when `step` is not newer than the last one that was taken. */
  confirmSecondFactor(id: string, step: number, codeHashes: readonly string[], by: Author): Promise<boolean>
  /** Takes the code of a time step, once: false when it, or a newer one, was taken. */
  useStep(id: string, step: number): Promise<boolean>
  /** Takes a recovery code, once. */
  useRecoveryCode(id: string, codeHash: string, by: Author): Promise<boolean>
  removeSecondFactor(id: string, by: Author): Promise<boolean>
  /** Locking ends all sign-ins. False without such a person, or when it is so already. */
  setLocked(id: string, locked: boolean, by: Author): Promise<boolean>
  /** Not while a dog would be left without an owner. */
  remove(id: string, by: Author): Promise<'removed' | 'missing' | 'last owner'>
}

/** Names are told apart by this: whatever their case and the way their letters are composed. */
export function signInKey(signInName: string): string {
  return signInName.normalize('NFKC').trim().toLowerCase()
}
