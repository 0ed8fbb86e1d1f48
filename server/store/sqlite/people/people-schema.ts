import type { Generated } from 'kysely'
import type { Role } from '#protocol/people'

/** Tables of migration 005 as kysely sees them. */

export interface PeopleTable {
  id: string
  sign_in_name: string
  /** The name as it is compared: see `signInKey`. */
  sign_in_key: string
  name: string
  keeper: 0 | 1
  /** Argon2id in its usual text form. */
  password_hash: string | null
  /** Base32. */
  factor_secret: string | null
  factor_confirmed: Generated<0 | 1>
  /** Newest time step whose code was taken: no code works twice. */
  factor_step: Generated<number>
  locked_at: string | null
  created_at: string
  last_seen_at: string | null
}

export interface RecoveryCodesTable {
  person_id: string
  code_hash: string
}

export interface RolesTable {
  dog_id: string
  person_id: string
  role: Role
  since: string
}

/** For a role with a dog, or (with `person_id`) for a new password. Gone once it was used. */
export interface InvitationsTable {
  id: string
  dog_id: string | null
  role: Role | null
  person_id: string | null
  secret_hash: string
  note: string | null
  created_by: string | null
  creator_name: string
  created_at: string
  expires_at: string
}

export interface SharesTable {
  id: string
  dog_id: string
  kind: 'live' | 'report'
  session_id: string | null
  from_day: string | null
  to_day: string | null
  questions: string | null
  secret_hash: string
  created_by: string | null
  creator_name: string
  created_at: string
  expires_at: string
  revoked_at: string | null
  opened: Generated<number>
  last_opened_at: string | null
}

/** What a cookie proves: who carries it, until when. */
export interface PassesTable {
  hash: string
  id: string
  kind: 'sign-in' | 'demo' | 'share' | 'paired'
  person_id: string | null
  share_id: string | null
  session_id: string | null
  device: string
  created_at_ms: number
  last_seen_at_ms: number
  expires_at_ms: number
}

export interface SecurityEventsTable {
  seq: Generated<number>
  at: string
  actor: string
  actor_id: string | null
  action: string
  dog_id: string | null
  /** JSON. */
  detail: string
}
