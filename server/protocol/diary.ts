import { Type } from 'typebox'
import type { Static } from 'typebox'
import { Id, Words } from './messages.ts'

const Nullable = <T extends Parameters<typeof Type.Union>[0][number]>(schema: T) =>
  Type.Union([schema, Type.Null()])
const Day = Type.String({ pattern: '^\\d{4}-\\d{2}-\\d{2}$' })

/**
 * Something of a dog's life that the numbers have to be read with: medication as prescribed, an event
 * (a fall, a vet's visit, a new harness), or a note. POST /api/dogs/:dogId/diary; PUT with If-Match.
 */
export const NewDiaryEntry = Type.Object(
  {
    kind: Type.Union([Type.Literal('medication'), Type.Literal('event'), Type.Literal('note')]),
    /** The day, or the first day of a medication. */
    fromDate: Day,
    /** The last day; null for a single day, or for a medication that goes on. */
    untilDate: Nullable(Day),
    title: Words(120),
    /** As written on the prescription; free text, as Swaybook does not check doses. */
    dose: Nullable(Type.String({ maxLength: 120 })),
    note: Nullable(Type.String({ maxLength: 1000 })),
  },
  { additionalProperties: false },
)
export type NewDiaryEntry = Static<typeof NewDiaryEntry>

/** GET /api/dogs/:dogId/diary, newest first. */
export const DiaryEntry = Type.Object({
  id: Id,
  dogId: Id,
  ...NewDiaryEntry.properties,
  version: Type.Integer(),
  createdAt: Type.String(),
  updatedAt: Type.String(),
})
export type DiaryEntry = Static<typeof DiaryEntry>

/** A change somebody made. GET /api/dogs/:dogId/audit, newest first, by pages. */
export const AuditEntry = Type.Object({
  seq: Type.Integer(),
  at: Type.String(),
  sessionId: Nullable(Id),
  /** Who, by name: `this computer` while nobody signs in, `paired device` for a phone. */
  actor: Type.String(),
  /** `<thing>.<what happened>`, e.g. `plan.set`, `session.excluded`, `check-in.changed`. */
  action: Type.String(),
  /** What it was and what it is, as far as it says more than the action. */
  detail: Type.Unknown(),
})
export type AuditEntry = Static<typeof AuditEntry>
