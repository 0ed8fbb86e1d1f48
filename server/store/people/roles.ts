import type { Person, Role } from '#protocol/people'
import type { Author } from '../changes.ts'

export interface DogRole {
  readonly personId: string
  readonly name: string
  readonly signInName: string
  readonly role: Role
  readonly since: string
}

/** Who may do what with which dog. */
export interface RoleRecords {
  /** Null without any, and for a dog that does not exist. */
  role(personId: string, dogId: string): Promise<Role | null>
  /** The dog of a session; null when there is none. */
  dogOfSession(sessionId: string): Promise<string | null>
  /** Of one dog, owners first. */
  ofDog(dogId: string): Promise<DogRole[]>
  /** Of all people, by their ids. */
  dogsOfPeople(): Promise<ReadonlyMap<string, Person['dogs']>>
  /** Of somebody who has one: a dog keeps an owner, and only an invitation brings somebody new. */
  change(dogId: string, personId: string, role: Role, by: Author): Promise<RoleOutcome>
  /** Ends the links the person made for the dog, too. */
  remove(dogId: string, personId: string, by: Author): Promise<RoleOutcome>
}

export type RoleOutcome = 'done' | 'missing' | 'last owner'
