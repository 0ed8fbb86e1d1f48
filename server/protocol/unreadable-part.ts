import { Type } from 'typebox'
import type { Static } from 'typebox'

/** A part of a recording whose stored samples are damaged. */
export const UnreadablePart = Type.Object(
  {
    /** Of the stream: samples [firstIndex, endIndex). */
    firstIndex: Type.Integer({ minimum: 0 }),
    endIndex: Type.Integer({ minimum: 1 }),
    /** On the axis of the report, s. */
    fromS: Type.Number(),
    toS: Type.Number(),
    /** Columns of the stream it concerns: those of a part are stored, and damaged, together. */
    channels: Type.Array(Type.String()),
  },
  { description: 'A part of a recording whose stored samples are damaged and cannot be read' },
)
export type UnreadablePart = Static<typeof UnreadablePart>
