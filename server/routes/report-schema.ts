import { Type } from 'typebox'
import type { Static, TSchema } from 'typebox'
import type { Report } from '#signal/report-types'

const Nullable = <T extends TSchema>(schema: T) => Type.Union([schema, Type.Null()])
const Measure = Nullable(Type.Number())
/** What cannot be less than nothing: a root mean square, a power, a length, a duration. */
const Size = Type.Number({ minimum: 0 })
const SizeOrNull = Nullable(Size)
const Count = Type.Integer({ minimum: 0 })
const Reason = Type.Optional(Type.String({ description: 'Why a measure is null' }))
const Span = Type.Object({ fromS: Type.Number(), toS: Type.Number() })
const Pair = Type.Object({ ml: SizeOrNull, cc: SizeOrNull })
const Row = Type.Tuple([Type.Number(), Type.Number(), Type.Number()])

const Quality = Type.Object({
  verdict: Type.Enum(['good', 'usable', 'poor']),
  reasons: Type.Array(Type.String()),
  gaps: Type.Array(Span),
  effectiveRateHz: Size,
  jitterSdS: Size,
  jitterMaxS: Size,
  clippedSamples: Count,
  flatSamples: Count,
  duplicates: Count,
  unusedSamples: Count,
  coverage: Size,
  noiseFloorMs2: SizeOrNull,
  resolutionMs2: Type.Optional(Size),
  clock: Type.Optional(
    Type.Object(
      {
        rateHz: Size,
        nominalRateHz: Size,
        driftPpm: Measure,
        offsetS: Measure,
        residualS: SizeOrNull,
        basis: Type.Enum(['arrival times', 'nominal rate']),
        reason: Reason,
      },
      { description: 'What the times of a live stream were taken from' },
    ),
  ),
})

const Mount = Type.Object({
  source: Type.Enum(['identity', 'declared', 'auto']),
  gravity: Size,
  rotation: Type.Tuple([Row, Row, Row]),
  headingResolved: Type.Boolean(),
  shiftDeg: SizeOrNull,
  shiftedAtS: Measure,
  reference: Nullable(
    Type.Object({ ...Span.properties, basis: Type.Enum(['quiet-stand marks', 'quietest stretch']) }),
  ),
  reason: Reason,
})

const Sway = Type.Object({
  rms: Type.Object({
    ml: SizeOrNull,
    cc: SizeOrNull,
    dv: Size,
    horizontal: Size,
    reason: Reason,
  }),
  range: Type.Object({ ml: SizeOrNull, cc: SizeOrNull, reason: Reason }),
  path: Size,
  pathRate: Size,
  jerk: Size,
  ellipse: Type.Object({
    area: Size,
    major: Size,
    minor: Size,
    angleDeg: Measure,
    n: Count,
    convention: Type.Literal('95% prediction ellipse (exact F)'),
    reason: Reason,
  }),
  spectral: Type.Object({
    totalPower: Pair,
    f50Hz: Pair,
    f95Hz: Pair,
    centroidHz: Pair,
    dispersion: Pair,
    reason: Reason,
  }),
  rmsInterval: Nullable(Type.Tuple([Size, Size])),
  steadinessRatio: SizeOrNull,
  degrees: Type.Optional(
    Type.Object({ pitchRmsDeg: SizeOrNull, rollRmsDeg: SizeOrNull, tiltRmsDeg: Size, reason: Reason }),
  ),
  reason: Reason,
})

const BandPower = Type.Object({
  name: Type.String(),
  fromHz: Size,
  toHz: Size,
  power: SizeOrNull,
  rms: SizeOrNull,
  peakHz: SizeOrNull,
  peakWidthHz: SizeOrNull,
  distinct: Type.Boolean(),
  lookalike: Nullable(Type.Enum(['panting', 'tail wag', 'handling'])),
  reason: Reason,
})

const Hold = Type.Object({
  ...Span.properties,
  durationS: Size,
  handsOffS: SizeOrNull,
  role: Type.Enum(['exercise', 'quiet stand']),
  endedBy: Type.Enum(['step', 'tilt', 'signal lost', 'end of recording', 'interval']),
  setBy: Type.Optional(Type.Literal('person', { description: 'A person set its bounds' })),
  sway: Sway,
  tremor: Type.Object({ bands: Type.Array(BandPower) }),
  reason: Reason,
})

const Session = Type.Object({
  handsOffHoldS: SizeOrNull,
  bestHoldS: SizeOrNull,
  supportShare: SizeOrNull,
  repetitions: Type.Array(
    Type.Object({
      ...Span.properties,
      holdS: Size,
      handsOffS: SizeOrNull,
      swayRms: SizeOrNull,
      reason: Reason,
    }),
  ),
  repetitionBasis: Type.Enum(['marks', 'pauses between holds']),
  fatigue: Type.Object({ slopePerRepetition: Measure, lastOverFirst: SizeOrNull, reason: Reason }),
  comparable: Type.Object({
    pieceS: Size,
    pieces: Count,
    basis: Type.Enum(['hands-off hold time', 'all hold time']),
    swayRms: SizeOrNull,
    pathRate: SizeOrNull,
    jerk: SizeOrNull,
    tremorRms: SizeOrNull,
    steadinessRatio: Type.Optional(
      Nullable(
        Type.Number({
          minimum: 0,
          description: 'Comparable sway over that of the marked quiet stand on the floor',
        }),
      ),
    ),
    weak: Type.Boolean(),
    reason: Reason,
  }),
  planWarnings: Type.Array(Type.String()),
  leftOutHolds: Type.Optional(
    Type.Array(
      Type.Object({
        ...Span.properties,
        reason: Nullable(Type.String({ description: 'Of the person who left it out' })),
      }),
    ),
  ),
  unusedCorrections: Type.Optional(
    Type.Array(
      Type.Object({ kind: Type.Enum(['set', 'leave out']), ...Span.properties, why: Type.String() }),
      { description: 'Corrections that do not fit this recording' },
    ),
  ),
  limitsBasis: Type.Optional(Type.String({ description: 'Whose limits the warnings are about' })),
  reason: Reason,
})

/** `Report` of signal/report-types.ts, for the API description. */
export const ReportSchema = Type.Object({
  version: Type.String(),
  trace: Type.Object({
    file: Nullable(Type.String()),
    samples: Count,
    rateHz: Size,
    // Of centuries: its end is still a date.
    durationS: Type.Number({ minimum: 0, maximum: 1e10 }),
    unit: Type.String(),
    startedAt: Nullable(Type.String()),
  }),
  quality: Quality,
  mount: Mount,
  holds: Type.Array(Hold),
  session: Session,
})

/** Refuses to compile when schema and type drift apart. */
type Described = Static<typeof ReportSchema>
export const describesReport: [Report] extends [Described] ? true : never = true
export const describedIsReport: [Described] extends [Report] ? true : never = true
