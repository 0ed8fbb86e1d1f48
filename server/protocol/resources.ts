import { Type } from 'typebox'
import type { Static } from 'typebox'
import { Id, MarkKindSchema, Moment, Words } from './messages.ts'
import type { UnreadablePart } from './unreadable-part.ts'

/** REST bodies under /api. Times at the edge are ISO 8601 UTC strings. */

const Nullable = <T extends Parameters<typeof Type.Union>[0][number]>(schema: T) =>
  Type.Union([schema, Type.Null()])

export const NewDog = Type.Object(
  {
    name: Words(80),
    breed: Type.Optional(Type.String({ maxLength: 80 })),
    weightKg: Type.Optional(Type.Number({ exclusiveMinimum: 0, maximum: 150 })),
    withersCm: Type.Optional(Type.Number({ exclusiveMinimum: 0, maximum: 130 })),
    bornYear: Type.Optional(Type.Integer({ minimum: 1980, maximum: 2200 })),
    notes: Type.Optional(Type.String({ maxLength: 2000 })),
    /** Marks the invented demo dog. */
    demo: Type.Optional(Type.Boolean()),
  },
  { additionalProperties: false },
)
export type NewDog = Static<typeof NewDog>

/** PATCH /api/dogs/:dogId with If-Match; null clears a field. */
export const DogChange = Type.Object(
  {
    name: Type.Optional(NewDog.properties.name),
    breed: Type.Optional(Nullable(Type.String({ maxLength: 80 }))),
    weightKg: Type.Optional(Nullable(Type.Number({ exclusiveMinimum: 0, maximum: 150 }))),
    withersCm: Type.Optional(Nullable(Type.Number({ exclusiveMinimum: 0, maximum: 130 }))),
    bornYear: Type.Optional(Nullable(Type.Integer({ minimum: 1980, maximum: 2200 }))),
    notes: Type.Optional(Nullable(Type.String({ maxLength: 2000 }))),
  },
  { additionalProperties: false, minProperties: 1 },
)
export type DogChange = Static<typeof DogChange>

export const Dog = Type.Object({
  id: Id,
  name: Type.String(),
  breed: Nullable(Type.String()),
  weightKg: Nullable(Type.Number()),
  withersCm: Nullable(Type.Number()),
  bornYear: Nullable(Type.Integer()),
  notes: Nullable(Type.String()),
  /** True for the invented demo dog, which can be removed in one step. */
  demo: Type.Boolean(),
  createdAt: Type.String(),
  sessions: Type.Integer(),
  /** In quotes the ETag: what If-Match of the next change names. */
  version: Type.Integer(),
})
export type Dog = Static<typeof Dog>

/** Only sessions on the same set-up are compared. */
export const SetUp = Type.Object(
  {
    exercise: Words(120),
    surface: Words(120),
    /** Distance between the surfaces under the fore and the hind paws, centre to centre, cm. */
    foreToHindCm: Type.Optional(Type.Number({ exclusiveMinimum: 0, maximum: 200 })),
    /** Distance between left and right paws, cm. */
    leftToRightCm: Type.Optional(Type.Number({ exclusiveMinimum: 0, maximum: 100 })),
    /** Height of the surface above the floor, cm. */
    heightCm: Type.Optional(Type.Number({ minimum: 0, maximum: 100 })),
    firmness: Type.Optional(Type.Union([Type.Literal('soft'), Type.Literal('medium'), Type.Literal('firm')])),
    /** Whether it gives or tips under the paws; the first three weeks on one are familiarisation. */
    unstable: Type.Optional(Type.Boolean()),
  },
  { additionalProperties: false },
)
export type SetUp = Static<typeof SetUp>

/**
 * How the sensor sits on the dog: `auto` (gravity only: ML and CC stay unresolved) or where its axes
 * point, as `x=cranial,y=left,z=dorsal`; two axes are enough.
 */
export const Mount = Type.String({ minLength: 1, maxLength: 60, pattern: '^[a-z=, ]+$' })

/** What the sensor says of itself, its packet layout included: kept with the recording; at most 16 KiB of JSON. */
export const SensorDescription = Type.Object(
  {
    name: Type.String({ maxLength: 120 }),
    layoutHash: Type.Optional(Type.String({ maxLength: 64 })),
    layout: Type.Optional(Type.Unknown()),
    batteryPercent: Type.Optional(Type.Number({ minimum: 0, maximum: 100 })),
  },
  { additionalProperties: false },
)
export type SensorDescription = Static<typeof SensorDescription>

export const NewSession = Type.Object(
  {
    /** Made by a device that records without a network; the same id again opens nothing new. */
    id: Type.Optional(Type.String({ minLength: 16, maxLength: 64, pattern: '^[A-Za-z0-9_-]+$' })),
    dogId: Id,
    sensor: Type.Union([
      Type.Literal('bluetooth'),
      Type.Literal('phone'),
      Type.Literal('simulated harness'),
      Type.Literal('replay'),
    ]),
    setUp: Type.Optional(SetUp),
    mount: Type.Optional(Mount),
    /** The exercise of the dog's plan that this session follows. */
    planned: Type.Optional(
      Type.Object(
        { planVersion: Type.Integer({ minimum: 1 }), exerciseId: Id },
        { additionalProperties: false },
      ),
    ),
    sensorDescription: Type.Optional(SensorDescription),
    /** The handler looked at surface and spacing before the start and said they are as noted. */
    setUpConfirmed: Type.Optional(Type.Boolean()),
  },
  { additionalProperties: false },
)
export type NewSession = Static<typeof NewSession>

/** The therapist's or the vet's limits of a live session; null leaves a limit out. */
export const StopRules = Type.Object(
  {
    swayRatio: Nullable(Type.Number({ exclusiveMinimum: 1, maximum: 10 })),
    holdRatio: Nullable(Type.Number({ exclusiveMinimum: 0, exclusiveMaximum: 1 })),
    supportRise: Nullable(Type.Number({ exclusiveMinimum: 0, maximum: 1 })),
  },
  { additionalProperties: false },
)
export type StopRules = Static<typeof StopRules>

export const PlanExercise = Type.Object(
  {
    /** Stays the same from version to version, so that sessions can be counted against it. */
    id: Id,
    setUp: SetUp,
    holdTargetS: Nullable(Type.Number({ exclusiveMinimum: 0, maximum: 600 })),
    repetitions: Nullable(Type.Integer({ minimum: 1, maximum: 100 })),
    notes: Nullable(Type.String({ maxLength: 500 })),
  },
  { additionalProperties: false },
)
export type PlanExercise = Static<typeof PlanExercise>

/** What a person writes into a plan; every change makes a new version, none is ever changed. */
export const NewPlan = Type.Object(
  {
    exercises: Type.Array(PlanExercise, { minItems: 1, maxItems: 20 }),
    sessionCapS: Nullable(Type.Number({ minimum: 10, maximum: 7200 })),
    sessionsPerDay: Nullable(Type.Integer({ minimum: 1, maximum: 10 })),
    daysPerWeek: Nullable(Type.Integer({ minimum: 1, maximum: 7 })),
    stopRules: StopRules,
    /** What stands at common practice because the vet or therapist said nothing of it: it is not their word. */
    fromPractice: Type.Optional(
      Type.Array(
        Type.Union([
          Type.Literal('session cap'),
          Type.Literal('repetitions'),
          Type.Literal('signs of tiring'),
        ]),
        { maxItems: 3, uniqueItems: true },
      ),
    ),
    /** Who set it: the vet or therapist, by name. */
    setBy: Words(120),
    /** First day it applies, YYYY-MM-DD. */
    validFrom: Type.String({ pattern: '^\\d{4}-\\d{2}-\\d{2}$' }),
    /** Last day it applies; null or left out while nobody said. */
    validUntil: Type.Optional(Nullable(Type.String({ pattern: '^\\d{4}-\\d{2}-\\d{2}$' }))),
    notes: Nullable(Type.String({ maxLength: 2000 })),
  },
  { additionalProperties: false },
)
export type NewPlan = Static<typeof NewPlan>

/** GET /api/dogs/:dogId/plan (newest) and /plans (all, newest first). */
export interface Plan extends NewPlan {
  dogId: string
  /** Counts from 1. */
  version: number
  createdAt: string
}

/**
 * How the dog was on the morning after a session; the answer is the owner's, in one tap.
 * PUT /api/sessions/:sessionId/check-in
 */
export const CheckIn = Type.Object(
  {
    answer: Type.Union([
      Type.Literal('better'),
      Type.Literal('normal'),
      Type.Literal('tired'),
      Type.Literal('sore'),
    ]),
    note: Type.Optional(Type.String({ maxLength: 500 })),
  },
  { additionalProperties: false },
)
export type CheckIn = Static<typeof CheckIn>

/** POST /api/sessions/:sessionId/pairing: lets one other device (a phone) record this session. */
export interface Pairing {
  /** 32 random bytes, base64url; goes into the fragment of the link, never into a path. */
  secret: string
  expiresAt: string
}

/** POST /api/pairings/redeem {secret}: once, before it expires. */
export const Redeem = Type.Object(
  { secret: Type.String({ minLength: 40, maxLength: 64, pattern: '^[A-Za-z0-9_-]+$' }) },
  { additionalProperties: false },
)
export type Redeem = Static<typeof Redeem>

/** What the phone may know of the session it records. */
export interface RedeemedPairing {
  session: string
  dogId: string
  dogName: string
  setUp: SetUp | null
  /** Until when a phone that nobody stops goes on, s: the plan's session cap and a margin, or an hour. */
  autoStopS?: number
}

/** The line of a session in a list; measures are null until analysed or when not supported. */
export const SessionSummary = Type.Object({
  id: Id,
  dogId: Id,
  dogName: Type.String(),
  sensor: Type.String(),
  fileName: Nullable(Type.String()),
  setUp: Nullable(SetUp),
  mount: Mount,
  state: Type.Union([
    Type.Literal('recording'),
    Type.Literal('analysing'),
    Type.Literal('finished'),
    Type.Literal('failed'),
  ]),
  startedAt: Nullable(Type.String()),
  createdAt: Type.String(),
  durationS: Nullable(Type.Number()),
  rateHz: Nullable(Type.Number()),
  verdict: Nullable(Type.Union([Type.Literal('good'), Type.Literal('usable'), Type.Literal('poor')])),
  holds: Nullable(Type.Integer()),
  holdS: Nullable(Type.Number()),
  handsOffHoldS: Nullable(Type.Number()),
  bestHoldS: Nullable(Type.Number()),
  /** Median over holds ≥ 2 s of the horizontal sway RMS, m/s². */
  swayMs2: Nullable(Type.Number()),
  /** Median over holds ≥ 2 s of the tremor-band RMS, m/s². */
  tremorMs2: Nullable(Type.Number()),
  /** Medians over 5 s pieces of hold time (hands-off when marked), m/s²: what trends compare. */
  comparableSwayMs2: Nullable(Type.Number()),
  comparableTremorMs2: Nullable(Type.Number()),
  /** Smallest step the sensor stated, m/s²; left out where none is stated. */
  resolutionMs2: Type.Optional(Type.Number()),
  analysisVersion: Nullable(Type.String()),
  /** Why the analysis failed, for `failed`. */
  problem: Nullable(Type.String()),
  /** The exercise of the plan it followed. */
  planned: Nullable(Type.Object({ planVersion: Type.Integer(), exerciseId: Id })),
  /** The next morning's answer; null while nobody gave one. */
  checkIn: Nullable(
    Type.Object({
      answer: CheckIn.properties.answer,
      note: Nullable(Type.String()),
      at: Type.String(),
      version: Type.Integer(),
    }),
  ),
  /** In quotes the ETag: what If-Match of the next PATCH names. */
  version: Type.Integer(),
  /** When somebody said that surface and spacing are as noted. */
  setUpConfirmedAt: Nullable(Type.String()),
  /** Why a person left it out of trends; null when nobody did. */
  excluded: Nullable(Type.Object({ reason: Type.String(), at: Type.String() })),
  /** Repetitions with hold time in them. */
  repetitions: Nullable(Type.Integer()),
  /** Share of the hold time with hands on, 0..1. */
  supportShare: Nullable(Type.Number()),
  /** Sway of the last repetition over that of the first. */
  fatigueRatio: Nullable(Type.Number()),
  /** How many limits were passed. */
  planWarnings: Nullable(Type.Integer()),
  /** Signs of fatigue noted, over all repetitions. */
  fatigueSigns: Type.Optional(Type.Integer()),
  /** Only where one session is asked for: what people wrote about it. */
  notes: Type.Optional(Nullable(Type.String())),
  /** Only in lists and for `recording`: whether its sender is connected now. */
  senderConnected: Type.Optional(Type.Boolean()),
  /** Only where one session is asked for: what its sensor said of itself. */
  sensorDescription: Type.Optional(Nullable(SensorDescription)),
})
export type SessionSummary = Static<typeof SessionSummary>

/** PATCH /api/sessions/:sessionId with If-Match; another mount or start analyses it again. */
export const SessionChangeBody = Type.Object(
  {
    setUp: Type.Optional(Nullable(SetUp)),
    mount: Type.Optional(Mount),
    /** ISO 8601. */
    startedAt: Type.Optional(Type.String({ maxLength: 40 })),
    notes: Type.Optional(Nullable(Type.String({ maxLength: 4000 }))),
    /** Leaves the session out of trends, with the reason; null takes it in again. */
    excluded: Type.Optional(Nullable(Type.Object({ reason: Words(200) }, { additionalProperties: false }))),
    setUpConfirmed: Type.Optional(Type.Boolean()),
  },
  { additionalProperties: false, minProperties: 1 },
)
export type SessionChangeBody = Static<typeof SessionChangeBody>

export const NewMark = Type.Object(
  {
    id: Type.Optional(Id),
    atS: Moment,
    kind: MarkKindSchema,
    note: Type.Optional(Type.String({ maxLength: 500 })),
  },
  { additionalProperties: false },
)
export type NewMark = Static<typeof NewMark>

/**
 * What the session screen draws. `overview` is min/max per bucket of ML, CC and DV dynamic
 * acceleration in dog axes (H1, H2, DV when the heading is unresolved), m/s²; null inside gaps.
 */
export interface Timeline {
  durationS: number
  rateHz: number
  headingResolved: boolean
  bucketS: number
  overview: {
    ml: { min: (number | null)[]; max: (number | null)[] }
    cc: { min: (number | null)[]; max: (number | null)[] }
    dv: { min: (number | null)[]; max: (number | null)[] }
  }
  /** Sway and tremor over time: one row a 0.5 s step. */
  course: { stepS: number; swayMs2: (number | null)[]; tremorMs2: (number | null)[] }
  marks: { id: string; atS: number; kind: string; note: string | null }[]
  gaps: { fromS: number; toS: number }[]
}

/** Drawing data of one hold: the low-passed path, the spectrum and how it changed with time (sum of three axes). */
export interface HoldDetail {
  index: number
  path: { stepS: number; ml: number[]; cc: number[] }
  spectrum: { frequencyHz: number[]; density: number[] }
  /**
   * One row of `levels` a window of `windowS`, its middle `fromS` + row · `stepS` from the start of the hold: log10 of
   * the density in (m/s²)²/Hz. null for a hold shorter than a window; left out by reports made before it existed.
   */
  timeFrequency?: {
    fromS: number
    stepS: number
    windowS: number
    frequencyHz: number[]
    levels: number[][]
  } | null
}

/** POST /api/imports */
export const Imported = Type.Object({
  dog: Dog,
  /** That came back. */
  sessions: Type.Integer(),
  /** Of these, analysed anew because another version of the analysis had made their reports. */
  analysedAgain: Type.Integer(),
})
export type Imported = Static<typeof Imported>

/** RFC 9457 problem details; uploads add where the trace was wrong and what to do. */
export interface Problem {
  type: string
  title: string
  status: number
  detail: string
  code: string
  /** Of the request that this answers, for whoever asks what happened: the log has it in each line of it. */
  requestId?: string
  /** Path within an archive. */
  file?: string
  line?: number
  column?: string
  value?: string
  remedy?: string
  /** For a trace that is already stored: its session. */
  sessionId?: string
  /** For a plan that was changed meanwhile: its newest version, 0 without one. */
  version?: number
  /** For a password that is not taken: a PasswordWeakness. */
  reason?: string
  /** For a recording that is damaged: what of it cannot be read. */
  unreadable?: UnreadablePart[]
}
