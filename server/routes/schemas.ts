import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import { UnreadablePart } from '#protocol/unreadable-part'

export const ProblemSchema = Type.Object(
  {
    type: Type.String(),
    title: Type.String(),
    status: Type.Integer(),
    detail: Type.String(),
    code: Type.String({ description: 'Stable; programs may branch on it.' }),
    requestId: Type.String({ description: 'The log has it in each line of the request.' }),
    file: Type.Optional(Type.String()),
    line: Type.Optional(Type.Integer()),
    column: Type.Optional(Type.String()),
    value: Type.Optional(Type.String()),
    remedy: Type.Optional(Type.String()),
    sessionId: Type.Optional(Type.String()),
    version: Type.Optional(Type.Integer()),
    reason: Type.Optional(Type.String()),
    unreadable: Type.Optional(Type.Array(UnreadablePart)),
  },
  { description: 'RFC 9457 problem details' },
)

/** The problems any route may answer with. */
export const PROBLEMS = { '4xx': ProblemSchema, '5xx': ProblemSchema }

export const NothingSchema = Type.Null({ description: 'Done; no content' })

export const DogParams = Type.Object({ dogId: Id })
export const SessionParams = Type.Object({ sessionId: Id })
