import { Type } from 'typebox'
import type { Static } from 'typebox'
import { Id, MarkKindSchema, Moment } from './messages.ts'

/** What people add to a session after it: notes on repetitions, corrected holds. */

const Nullable = <T extends Parameters<typeof Type.Union>[0][number]>(schema: T) =>
  Type.Union([schema, Type.Null()])

/**
 * Signs of fatigue a handler can see (common practice, no source): each is a reason to stop, none is a
 * diagnosis.
 */
export const FatigueSign = Type.Union([
  Type.Literal('shuffling'),
  Type.Literal('paw off'),
  Type.Literal('arched back'),
  Type.Literal('sagging back'),
  Type.Literal('splayed stance'),
  Type.Literal('narrowed stance'),
  Type.Literal('trembling'),
  Type.Literal('panting'),
  Type.Literal('looking away'),
  Type.Literal('refusing the treat'),
])
export type FatigueSign = Static<typeof FatigueSign>

/** How the dog stood (common practice, no source). */
export const Stance = Type.Union([
  Type.Literal('square'),
  Type.Literal('hind feet tucked under'),
  Type.Literal('stretched'),
  Type.Literal('weight shifted'),
])
export type Stance = Static<typeof Stance>

/** PUT /api/sessions/:sessionId/repetition-notes/:noteId (If-None-Match: * for a new one, else If-Match). */
export const NewRepetitionNote = Type.Object(
  {
    /** A moment of the repetition, s from the start on the axis of the report. */
    atS: Moment,
    stance: Nullable(Stance),
    signs: Type.Array(FatigueSign, { maxItems: 10, uniqueItems: true }),
    note: Nullable(Type.String({ maxLength: 500 })),
  },
  { additionalProperties: false },
)
export type NewRepetitionNote = Static<typeof NewRepetitionNote>

/** GET /api/sessions/:sessionId/repetition-notes gives them in the order of their time. */
export const RepetitionNote = Type.Object({
  id: Id,
  ...NewRepetitionNote.properties,
  version: Type.Integer(),
  updatedAt: Type.String(),
})
export type RepetitionNote = Static<typeof RepetitionNote>

/**
 * A person's word on holds. `set`: exactly [fromS, toS) is one hold, in place of every hold it overlaps.
 * `leave out`: the holds whose middle lies in [fromS, toS) count for nothing, for the reason given.
 * Seconds on the axis of the report.
 */
export const HoldEdit = Type.Object(
  {
    id: Id,
    kind: Type.Union([Type.Literal('set'), Type.Literal('leave out')]),
    fromS: Moment,
    toS: Moment,
    reason: Nullable(Type.String({ maxLength: 200 })),
  },
  { additionalProperties: false },
)
export type HoldEdit = Static<typeof HoldEdit>

/**
 * GET and PUT /api/sessions/:sessionId/edits: everything people say about the course of a session, as one
 * document, so that an undo is the document before. PUT (If-Match) replaces it in one transaction and
 * analyses the session again, once, before the answer comes; refused while it is being recorded.
 */
export const SessionEdits = Type.Object(
  {
    marks: Type.Array(
      Type.Object(
        {
          id: Id,
          atS: Moment,
          kind: MarkKindSchema,
          note: Nullable(Type.String({ maxLength: 500 })),
        },
        { additionalProperties: false },
      ),
      { maxItems: 20_000 },
    ),
    holds: Type.Array(HoldEdit, { maxItems: 500 }),
  },
  { additionalProperties: false },
)
export type SessionEdits = Static<typeof SessionEdits>

export const StoredSessionEdits = Type.Object({ ...SessionEdits.properties, version: Type.Integer() })
export type StoredSessionEdits = Static<typeof StoredSessionEdits>
