import { Type } from 'typebox'
import type { Static } from 'typebox'
import type { DiaryEntry } from './diary.ts'
import { Id, Words } from './messages.ts'
import type { Dog, Plan, SessionSummary } from './resources.ts'
import type { RepetitionNote } from './session-review.ts'
import type { Trends } from './trends.ts'

/** Who may do what: people, their roles with dogs, invitations and shares. */

const Nullable = <T extends Parameters<typeof Type.Union>[0][number]>(schema: T) =>
  Type.Union([schema, Type.Null()])
const Day = Type.String({ pattern: '^\\d{4}-\\d{2}-\\d{2}$' })

/** Each may do all that those after it may. */
export const ROLES = ['owner', 'therapist', 'viewer'] as const
export const Role = Type.Union([Type.Literal('owner'), Type.Literal('therapist'), Type.Literal('viewer')])
export type Role = Static<typeof Role>

export const SignInName = Words(100)
const PersonName = Words(100)
/** Length is counted in code points by the server; the bound here is one of size only. */
const Password = Type.String({ minLength: 1, maxLength: 1024 })
/** 32 random bytes, base64url; travels in the fragment of a link and in bodies only. */
const Secret = Type.String({ minLength: 40, maxLength: 64, pattern: '^[A-Za-z0-9_-]+$' })

/** What opened by a share link: one session as it happens, or one report. */
export const Shared = Type.Object({
  kind: Type.Union([Type.Literal('live'), Type.Literal('report')]),
  dogName: Type.String(),
  dogId: Id,
  /** Of a live share. */
  sessionId: Type.Optional(Id),
  expiresAt: Type.String(),
})
export type Shared = Static<typeof Shared>

/** GET /api/me, and the answer to all that changes who one is. */
export const Me = Type.Object({
  person: Nullable(
    Type.Object({
      id: Id,
      name: Type.String(),
      signInName: Type.String(),
      /** Looks after this installation. */
      keeper: Type.Boolean(),
      hasSecondFactor: Type.Boolean(),
    }),
  ),
  /** How the person is known; `this computer` while its owner has no password. */
  via: Nullable(Type.Union([Type.Literal('this computer'), Type.Literal('sign-in')])),
  /** Whether the installation's owner has a password: then everybody signs in. */
  passwordSet: Type.Boolean(),
  /** Whether the person may bring in the invented dog: whoever looks after a Swaybook of this computer alone. */
  demo: Type.Boolean(),
  shared: Nullable(Shared),
})
export type Me = Static<typeof Me>

/** POST /api/sign-in */
export const SignIn = Type.Object(
  {
    signInName: SignInName,
    password: Password,
    /** Six digits of the authenticator, or a recovery code; asked for by CODE_NEEDED. */
    code: Type.Optional(Type.String({ minLength: 6, maxLength: 40 })),
  },
  { additionalProperties: false },
)
export type SignIn = Static<typeof SignIn>

/** PATCH /api/me */
export const MeChange = Type.Object(
  { name: Type.Optional(PersonName), signInName: Type.Optional(SignInName) },
  { additionalProperties: false, minProperties: 1 },
)
export type MeChange = Static<typeof MeChange>

/** PUT /api/me/password; `current` is left out for the very first password. */
export const NewPassword = Type.Object(
  {
    current: Type.Optional(Password),
    password: Password,
    signInName: Type.Optional(SignInName),
    name: Type.Optional(PersonName),
  },
  { additionalProperties: false },
)
export type NewPassword = Static<typeof NewPassword>

/** Why a password is refused: in `reason` of the problem PASSWORD_WEAK. */
export type PasswordWeakness = 'too short' | 'too long' | 'common' | 'contains the sign-in name'

/** POST /api/me/second-factor: what the authenticator is told; nothing is asked for until it is confirmed. */
export const SecondFactorOffer = Type.Object({
  /** Base32, to be typed. */
  secret: Type.String(),
  /** otpauth://totp/…, to be shown as a QR code. */
  uri: Type.String(),
})
export type SecondFactorOffer = Static<typeof SecondFactorOffer>

/** PUT /api/me/second-factor */
export const SecondFactorCode = Type.Object(
  { code: Type.String({ pattern: '^\\s*\\d{3}\\s?\\d{3}\\s*$' }) },
  { additionalProperties: false },
)
export type SecondFactorCode = Static<typeof SecondFactorCode>

/** Its answer: each code works once, and they are never shown again. */
export const SecondFactorSet = Type.Object({
  ...Me.properties,
  recoveryCodes: Type.Array(Type.String(), { minItems: 8, maxItems: 8 }),
})
export type SecondFactorSet = Static<typeof SecondFactorSet>

/** DELETE /api/me/second-factor */
export const PasswordAgain = Type.Object({ password: Password }, { additionalProperties: false })
export type PasswordAgain = Static<typeof PasswordAgain>

/** GET /api/me/sign-ins, newest first. */
export const SignedInDevice = Type.Object({
  id: Id,
  createdAt: Type.String(),
  lastSeenAt: Type.String(),
  /** What its browser says of itself, shortened. */
  device: Type.String(),
  /** The one that asks. */
  current: Type.Boolean(),
})
export type SignedInDevice = Static<typeof SignedInDevice>

/** GET /api/people, for the keeper. */
export const Person = Type.Object({
  id: Id,
  name: Type.String(),
  signInName: Type.String(),
  keeper: Type.Boolean(),
  lockedAt: Nullable(Type.String()),
  lastSeenAt: Nullable(Type.String()),
  dogs: Type.Array(Type.Object({ dogId: Id, name: Type.String(), role: Role })),
})
export type Person = Static<typeof Person>

/** PATCH /api/people/:personId */
export const PersonChange = Type.Object(
  { locked: Type.Optional(Type.Boolean()) },
  { additionalProperties: false, minProperties: 1 },
)
export type PersonChange = Static<typeof PersonChange>

/** POST /api/people/:personId/reset-link */
export const ResetLink = Type.Object({ secret: Type.String(), expiresAt: Type.String() })
export type ResetLink = Static<typeof ResetLink>

/** GET /api/dogs/:dogId/people */
export const DogPerson = Type.Object({
  personId: Id,
  name: Type.String(),
  /** For owners of the dog only. */
  signInName: Type.Optional(Type.String()),
  role: Role,
  since: Type.String(),
})
export type DogPerson = Static<typeof DogPerson>

/** PUT /api/dogs/:dogId/people/:personId */
export const RoleChange = Type.Object({ role: Role }, { additionalProperties: false })
export type RoleChange = Static<typeof RoleChange>

/** POST /api/dogs/:dogId/invitations */
export const NewInvitation = Type.Object(
  { role: Role, note: Type.Optional(Type.String({ maxLength: 200 })) },
  { additionalProperties: false },
)
export type NewInvitation = Static<typeof NewInvitation>

/** GET /api/dogs/:dogId/invitations: those that still work. */
export const Invitation = Type.Object({
  id: Id,
  role: Role,
  note: Nullable(Type.String()),
  invitedBy: Type.String(),
  createdAt: Type.String(),
  expiresAt: Type.String(),
})
export type Invitation = Static<typeof Invitation>

/** The answer to POST: the only time the secret is told. */
export const InvitationMade = Type.Object({ ...Invitation.properties, secret: Type.String() })
export type InvitationMade = Static<typeof InvitationMade>

/** POST /api/invitations/look */
export const InvitationLook = Type.Object({ secret: Secret }, { additionalProperties: false })
export type InvitationLook = Static<typeof InvitationLook>

/** Its answer; of a link that resets a password `dogName` and `role` are null. */
export const InvitationSeen = Type.Object({
  dogName: Nullable(Type.String()),
  role: Nullable(Role),
  invitedBy: Type.String(),
  expiresAt: Type.String(),
  reset: Type.Boolean(),
})
export type InvitationSeen = Static<typeof InvitationSeen>

/**
 * POST /api/invitations/accept: `secret` alone for who is signed in; with name and password it makes the account;
 * with the password alone it resets the one the link is for.
 */
export const AcceptInvitation = Type.Object(
  {
    secret: Secret,
    signInName: Type.Optional(SignInName),
    name: Type.Optional(PersonName),
    password: Type.Optional(Password),
  },
  { additionalProperties: false },
)
export type AcceptInvitation = Static<typeof AcceptInvitation>

export const MAX_SHARE_DAYS = 30

/** POST /api/dogs/:dogId/shares */
export const NewShare = Type.Union([
  Type.Object(
    {
      kind: Type.Literal('live'),
      sessionId: Id,
      hours: Type.Integer({ minimum: 1, maximum: MAX_SHARE_DAYS * 24 }),
    },
    { additionalProperties: false },
  ),
  Type.Object(
    {
      kind: Type.Literal('report'),
      /** First and last day, YYYY-MM-DD, both included. */
      from: Day,
      to: Day,
      /** The owner's questions to the vet, as they stand on the report. */
      questions: Type.Optional(Type.String({ maxLength: 2000 })),
      days: Type.Integer({ minimum: 1, maximum: MAX_SHARE_DAYS }),
    },
    { additionalProperties: false },
  ),
])
export type NewShare = Static<typeof NewShare>

/** GET /api/dogs/:dogId/shares, newest first; those that are over stay in the list for 30 days. */
export const Share = Type.Object({
  id: Id,
  kind: Type.Union([Type.Literal('live'), Type.Literal('report')]),
  sessionId: Type.Optional(Id),
  from: Type.Optional(Day),
  to: Type.Optional(Day),
  createdBy: Type.String(),
  createdAt: Type.String(),
  expiresAt: Type.String(),
  revokedAt: Nullable(Type.String()),
  /** How often its link was opened. */
  opened: Type.Integer(),
  lastOpenedAt: Nullable(Type.String()),
})
export type Share = Static<typeof Share>

/** The answer to POST: the only time the secret is told. */
export const ShareMade = Type.Object({ ...Share.properties, secret: Type.String() })
export type ShareMade = Static<typeof ShareMade>

/** POST /api/shares/open */
export const OpenShare = Type.Object({ secret: Secret }, { additionalProperties: false })
export type OpenShare = Static<typeof OpenShare>
export const ShareOpened = Type.Object({ shared: Shared })
export type ShareOpened = Static<typeof ShareOpened>

/** GET /api/shared/session: what the hold view of a live share needs beside the socket. */
export const SharedSession = Type.Object({
  sessionId: Id,
  dogName: Type.String(),
  state: Type.Union([
    Type.Literal('recording'),
    Type.Literal('analysing'),
    Type.Literal('finished'),
    Type.Literal('failed'),
  ]),
  startedAt: Nullable(Type.String()),
  /** Whether it is a dog that stands there, or one that is played. */
  sensor: Type.String(),
  /** One step of the sensor, m/s²: below it nothing can be told. */
  resolutionMs2: Type.Optional(Type.Number()),
})
export type SharedSession = Static<typeof SharedSession>

/** GET /api/shared/report: what a report is made of, of its period and no more. */
export interface SharedReport {
  from: string
  to: string
  questions: string
  dog: Dog
  /** Newest first; those that were in force in the period. */
  plans: Plan[]
  /** Of the period, a day more on both sides: the reader's day may be another one. */
  sessions: SessionSummary[]
  /** By measure: those the report tells the course of. */
  trends: Record<SharedMeasure, Trends>
  diary: DiaryEntry[]
  /** By the session's id. */
  notes: Record<string, RepetitionNote[]>
}
export const SHARED_MEASURES = ['swayRms', 'tremorRms', 'handsOffHoldS', 'bestHoldS', 'supportShare'] as const
export type SharedMeasure = (typeof SHARED_MEASURES)[number]

/** GET /api/audit, for the keeper, newest first, by pages. */
export const SecurityEvent = Type.Object({
  seq: Type.Integer(),
  at: Type.String(),
  /** Who: a name, `this computer`, or `nobody` for one who is not signed in. */
  actor: Type.String(),
  /** `<thing>.<what happened>`, e.g. `sign-in.failed`, `person.locked`, `share.opened`. */
  action: Type.String(),
  dogId: Nullable(Id),
  detail: Type.Unknown(),
})
export type SecurityEvent = Static<typeof SecurityEvent>
export const SecurityEventPage = Type.Object({
  entries: Type.Array(SecurityEvent),
  next: Nullable(Type.String({ description: 'Cursor of the next page' })),
})
export type SecurityEventPage = Static<typeof SecurityEventPage>
