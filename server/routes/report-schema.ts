import { Type } from 'typebox'
import type { Static, TSchema } from 'typebox'
import type { Report } from '#signal/report-types'

const Nullable = <T extends TSchema>(schema: T) => Type.Union([schema, Type.Null()])
const Measure = Nullable(Type.Number())
const Reason = Type.Optional(Type.String({ description: 'Why a measure is null' }))
const Span = Type.Object({ fromS: Type.Number(), toS: Type.Number() })
const Pair = Type.Object({ ml: Measure, cc: Measure })
const Row = Type.Tuple([Type.Number(), Type.Number(), Type.Number()])

const Quality = Type.Object({
  verdict: Type.Enum(['good', 'usable', 'poor']),
  reasons: Type.Array(Type.String()),
  gaps: Type.Array(Span),
  effectiveRateHz: Type.Number(),
  jitterSdS: Type.Number(),
  jitterMaxS: Type.Number(),
  clippedSamples: Type.Integer(),
  flatSamples: Type.Integer(),
  duplicates: Type.Integer(),
  unusedSamples: Type.Integer(),
  coverage: Type.Number(),
  noiseFloorMs2: Measure,
  resolutionMs2: Type.Optional(Type.Number()),
  clock: Type.Optional(
    Type.Object(
      {
        rateHz: Type.Number(),
        nominalRateHz: Type.Number(),
        driftPpm: Measure,
        offsetS: Measure,
        residualS: Measure,
        basis: Type.Enum(['arrival times', 'nominal rate']),
        reason: Reason,
      },
      { description: 'What the times of a live stream were taken from' },
    ),
  ),
})

const Mount = Type.Object({
  source: Type.Enum(['identity', 'declared', 'auto']),
  gravity: Type.Number(),
  rotation: Type.Tuple([Row, Row, Row]),
  headingResolved: Type.Boolean(),
  shiftDeg: Measure,
  shiftedAtS: Measure,
  reference: Nullable(
    Type.Object({ ...Span.properties, basis: Type.Enum(['quiet-stand marks', 'quietest stretch']) }),
  ),
  reason: Reason,
})

const Sway = Type.Object({
  rms: Type.Object({
    ml: Measure,
    cc: Measure,
    dv: Type.Number(),
    horizontal: Type.Number(),
    reason: Reason,
  }),
  range: Type.Object({ ml: Measure, cc: Measure, reason: Reason }),
  path: Type.Number(),
  pathRate: Type.Number(),
  jerk: Type.Number(),
  ellipse: Type.Object({
    area: Type.Number(),
    major: Type.Number(),
    minor: Type.Number(),
    angleDeg: Measure,
    n: Type.Integer(),
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
  rmsInterval: Nullable(Type.Tuple([Type.Number(), Type.Number()])),
  steadinessRatio: Measure,
  degrees: Type.Optional(
    Type.Object({ pitchRmsDeg: Measure, rollRmsDeg: Measure, tiltRmsDeg: Type.Number(), reason: Reason }),
  ),
  reason: Reason,
})

const BandPower = Type.Object({
  name: Type.String(),
  fromHz: Type.Number(),
  toHz: Type.Number(),
  power: Measure,
  rms: Measure,
  peakHz: Measure,
  peakWidthHz: Measure,
  distinct: Type.Boolean(),
  lookalike: Nullable(Type.Enum(['panting', 'tail wag', 'handling'])),
  reason: Reason,
})

const Hold = Type.Object({
  ...Span.properties,
  durationS: Type.Number(),
  handsOffS: Measure,
  role: Type.Enum(['exercise', 'quiet stand']),
  endedBy: Type.Enum(['step', 'tilt', 'signal lost', 'end of recording', 'interval']),
  setBy: Type.Optional(Type.Literal('person', { description: 'A person set its bounds' })),
  sway: Sway,
  tremor: Type.Object({ bands: Type.Array(BandPower) }),
  reason: Reason,
})

const Session = Type.Object({
  handsOffHoldS: Measure,
  bestHoldS: Measure,
  supportShare: Measure,
  repetitions: Type.Array(
    Type.Object({
      ...Span.properties,
      holdS: Type.Number(),
      handsOffS: Measure,
      swayRms: Measure,
      reason: Reason,
    }),
  ),
  repetitionBasis: Type.Enum(['marks', 'pauses between holds']),
  fatigue: Type.Object({ slopePerRepetition: Measure, lastOverFirst: Measure, reason: Reason }),
  comparable: Type.Object({
    pieceS: Type.Number(),
    pieces: Type.Integer(),
    basis: Type.Enum(['hands-off hold time', 'all hold time']),
    swayRms: Measure,
    pathRate: Measure,
    jerk: Measure,
    tremorRms: Measure,
    steadinessRatio: Type.Optional(
      Nullable(
        Type.Number({ description: 'Comparable sway over that of the marked quiet stand on the floor' }),
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
    samples: Type.Integer(),
    rateHz: Type.Number(),
    durationS: Type.Number(),
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
