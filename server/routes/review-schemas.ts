import { Type } from 'typebox'
import type { TSchema } from 'typebox'

const Nullable = <T extends TSchema>(schema: T) => Type.Union([schema, Type.Null()])
const Course = Type.Array(Nullable(Type.Number()))
const MinMax = Type.Object({ min: Course, max: Course })

/** `Timeline` of server/protocol/resources.ts. */
export const TimelineSchema = Type.Object({
  durationS: Type.Number({ minimum: 0 }),
  rateHz: Type.Number({ minimum: 0 }),
  headingResolved: Type.Boolean(),
  bucketS: Type.Number({ minimum: 0 }),
  overview: Type.Object({ ml: MinMax, cc: MinMax, dv: MinMax }),
  course: Type.Object({ stepS: Type.Number({ minimum: 0 }), swayMs2: Course, tremorMs2: Course }),
  marks: Type.Array(
    Type.Object({
      id: Type.String(),
      atS: Type.Number(),
      kind: Type.String(),
      note: Nullable(Type.String()),
    }),
  ),
  gaps: Type.Array(Type.Object({ fromS: Type.Number(), toS: Type.Number() })),
})

/** `HoldDetail` of server/protocol/resources.ts. */
export const HoldDetailSchema = Type.Object({
  index: Type.Integer({ minimum: 0 }),
  path: Type.Object({
    stepS: Type.Number({ minimum: 0 }),
    ml: Type.Array(Type.Number()),
    cc: Type.Array(Type.Number()),
  }),
  spectrum: Type.Object({
    frequencyHz: Type.Array(Type.Number()),
    density: Type.Array(Type.Number()),
  }),
  timeFrequency: Type.Optional(
    Nullable(
      Type.Object({
        fromS: Type.Number({ minimum: 0 }),
        stepS: Type.Number({ exclusiveMinimum: 0 }),
        windowS: Type.Number({ exclusiveMinimum: 0 }),
        frequencyHz: Type.Array(Type.Number({ minimum: 0 })),
        levels: Type.Array(Type.Array(Type.Number())),
      }),
    ),
  ),
})
