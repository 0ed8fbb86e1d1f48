import { Type } from 'typebox'
import type { Static } from 'typebox'
import { Id, MarkKindSchema } from '#protocol/messages'
import { NewDiaryEntry } from '#protocol/diary'
import { CheckIn, Mount, NewPlan, PlanExercise, SensorDescription, SetUp } from '#protocol/resources'
import { HoldEdit, NewRepetitionNote } from '#protocol/session-review'
import { NewTrendSettings } from '#protocol/trends'
import { HoldDetailSchema, TimelineSchema } from '../routes/review-schemas.ts'

/** The JSON files of a dog's archive, one schema each. What they do not mention is refused when it comes back. */

export const FORMAT = 'swaybook-dog-archive'
/** Raised when an older server could not read the files, or would lose something. */
export const FORMAT_VERSION = 1

const Nullable = <T extends Parameters<typeof Type.Union>[0][number]>(schema: T) =>
  Type.Union([schema, Type.Null()])
const closed = { additionalProperties: false } as const
/** Written by the server's clock. */
const Instant = Type.String({
  pattern:
    '^(19[7-9]|2[01]\\d)\\d-(0[1-9]|1[0-2])-(0[1-9]|[12]\\d|3[01])T([01]\\d|2[0-3]):[0-5]\\d:[0-5]\\d(\\.\\d{1,9})?Z$',
})
/**
 * When a recording began, UTC µs. Wider than what a person may say (routes/start-time.ts): the clock of a sensor
 * may be wrong by centuries, and what was recorded with it must come back. Within it µs are whole numbers.
 */
const StartUs = Type.Integer({
  minimum: Number.MIN_SAFE_INTEGER,
  maximum: Number.MAX_SAFE_INTEGER,
  description: 'UTC, µs since 1970',
})
/** Far beyond what any sensor does; what is outside is no rate. */
const RateHz = Type.Number({ minimum: 1e-3, maximum: 1e6 })
/** A month at 400 Hz. */
const MAX_SAMPLES = 1_000_000_000
const Count = Type.Integer({ minimum: 0 })
const Version = Type.Integer({ minimum: 1 })
const Text = (maxLength: number) => Type.String({ maxLength })

/** An older server took words of blanks alone: what it stored comes back as it was. */
const Words = (maxLength: number) => Type.String({ minLength: 1, maxLength })
const StoredSetUp = Type.Object({ ...SetUp.properties, exercise: Words(120), surface: Words(120) }, closed)
const StoredPlan = Type.Object(
  {
    ...NewPlan.properties,
    setBy: Words(120),
    exercises: Type.Array(Type.Object({ ...PlanExercise.properties, setUp: StoredSetUp }, closed), {
      minItems: 1,
      maxItems: 20,
    }),
  },
  closed,
)

export const DogFile = Type.Object(
  {
    id: Id,
    name: Type.String({ minLength: 1, maxLength: 80 }),
    breed: Nullable(Text(80)),
    weightKg: Nullable(Type.Number({ exclusiveMinimum: 0, maximum: 150 })),
    withersCm: Nullable(Type.Number({ exclusiveMinimum: 0, maximum: 130 })),
    bornYear: Nullable(Type.Integer({ minimum: 1980, maximum: 2200 })),
    notes: Nullable(Text(2000)),
    demo: Type.Boolean(),
    createdAt: Instant,
    version: Version,
  },
  { ...closed, title: 'The dog' },
)
export type DogFile = Static<typeof DogFile>

export const PlansFile = Type.Array(
  Type.Object({ version: Version, createdAt: Instant, plan: StoredPlan }, closed),
  { title: 'Every version of the plan, oldest first' },
)
export type PlansFile = Static<typeof PlansFile>

export const DiaryFile = Type.Array(
  Type.Object(
    {
      id: Id,
      ...NewDiaryEntry.properties,
      title: Words(120),
      version: Version,
      createdAt: Instant,
      updatedAt: Instant,
    },
    closed,
  ),
  { title: 'Medication, events and notes, oldest first' },
)
export type DiaryFile = Static<typeof DiaryFile>

export const TrendSettingsFile = Type.Union(
  [Type.Object({ version: Version, settings: NewTrendSettings }, closed), Type.Null()],
  { title: 'How trends are read; null while nobody has set anything' },
)
export type TrendSettingsFile = Static<typeof TrendSettingsFile>

export const AuditFile = Type.Array(
  Type.Object(
    { at: Instant, sessionId: Nullable(Id), actor: Text(200), action: Text(200), detail: Type.Unknown() },
    closed,
  ),
  { title: 'Changes people made, oldest first; audit-2.json … go on' },
)
export type AuditFile = Static<typeof AuditFile>

/** Where the rows lie, in parts counted from 1. */
export const auditPath = (part: number) => (part === 1 ? 'audit.json' : `audit-${part}.json`)

export const SessionFile = Type.Object(
  {
    id: Id,
    sensor: Text(60),
    fileName: Nullable(Text(255)),
    contentHash: Nullable(
      Type.String({ pattern: '^[0-9a-f]{64}$', description: 'SHA-256 of the uploaded file' }),
    ),
    setUp: Nullable(StoredSetUp),
    setUpConfirmedAt: Nullable(Instant),
    mount: Mount,
    state: Type.Union([Type.Literal('finished'), Type.Literal('failed')]),
    problem: Nullable(Text(4000)),
    startedAtUs: Nullable(StartUs),
    createdAt: Instant,
    planned: Nullable(Type.Object({ planVersion: Version, exerciseId: Id }, closed)),
    sensorDescription: Nullable(SensorDescription),
    checkIn: Nullable(
      Type.Object(
        {
          answer: CheckIn.properties.answer,
          note: Nullable(Text(500)),
          at: Instant,
          version: Version,
        },
        closed,
      ),
    ),
    removedCheckInVersion: Type.Optional(
      Type.Integer({
        minimum: 1,
        description: 'Of the check-in removed last: the next one goes on from there',
      }),
    ),
    notes: Nullable(Text(4000)),
    excluded: Nullable(
      Type.Object({ reason: Type.String({ minLength: 1, maxLength: 200 }), at: Instant }, closed),
    ),
    timeScale: Nullable(
      Type.Number({
        // A sensor's clock is off by 5 % at most: signal/clock/stream-clock.ts.
        minimum: 0.5,
        maximum: 2,
        description: 'Seconds of the report per nominal second of the stream; null for 1',
      }),
    ),
    rateHz: Nullable(
      Type.Number({
        minimum: 0,
        maximum: 1e6,
        description: 'What the sensor really delivered, as lists show it',
      }),
    ),
    version: Version,
  },
  { ...closed, title: 'One session: what people and the sensor said about it' },
)
export type SessionFile = Static<typeof SessionFile>

export const EditsFile = Type.Object(
  {
    version: Version,
    marks: Type.Array(
      Type.Object(
        {
          id: Id,
          atS: Type.Number({
            description:
              'Nominal seconds: index ÷ rateHz of a live stream. Times timeScale of session.json: on the report',
          }),
          kind: MarkKindSchema,
          note: Nullable(Text(500)),
        },
        closed,
      ),
    ),
    holds: Type.Array(HoldEdit),
  },
  { ...closed, title: 'Marks and corrected holds' },
)
export type EditsFile = Static<typeof EditsFile>

export const RepetitionNotesFile = Type.Array(
  Type.Object({ id: Id, ...NewRepetitionNote.properties, version: Version, updatedAt: Instant }, closed),
  { title: 'Notes on repetitions: stance and signs of fatigue' },
)
export type RepetitionNotesFile = Static<typeof RepetitionNotesFile>

export const StreamFile = Type.Object(
  {
    id: Id,
    kind: Type.Union([Type.Literal('live'), Type.Literal('trace')]),
    columns: Type.Array(Type.String({ pattern: '^(t|[ag][xyz])$' }), {
      minItems: 3,
      maxItems: 7,
      description: 'Of samples.csv after the index. a: m/s², g: rad/s, t: s',
    }),
    dtype: Type.Union([Type.Literal('float32'), Type.Literal('float64')], {
      description: 'Every number of samples.csv reads back to exactly this kind of float',
    }),
    rateHz: RateHz,
    startedAtUs: Nullable(StartUs),
    resolutionMs2: Nullable(Type.Number({ minimum: 0 })),
    source: Nullable(
      Type.Object(
        {
          unit: Text(20),
          stampResolutionS: Type.Optional(Type.Number({ minimum: 0 })),
          duplicates: Type.Optional(Count),
          unusedSamples: Type.Optional(Count),
          notes: Type.Optional(Type.Array(Type.String())),
        },
        { ...closed, description: 'What the uploaded file said about itself' },
      ),
    ),
    nextIndex: Type.Integer({
      minimum: 0,
      maximum: MAX_SAMPLES,
      description: 'Samples and lost samples together',
    }),
    complete: Type.Boolean(),
    lost: Type.Array(Type.Object({ firstIndex: Count, count: Type.Integer({ minimum: 1 }) }, closed), {
      description: 'Samples the sensor never delivered; samples.csv has no row for them',
    }),
  },
  { ...closed, title: 'The run of samples of one sensor' },
)
export type StreamFile = Static<typeof StreamFile>

/** Of a timeline everything but the marks, which edits.json has. */
export const DrawingFile = Type.Object(
  { timeline: Type.Omit(TimelineSchema, ['marks']), holds: Type.Array(HoldDetailSchema) },
  { ...closed, title: 'What screens draw of the session, derived from its samples' },
)

export const ManifestFile = Type.Object(
  {
    format: Type.Literal(FORMAT),
    formatVersion: Version,
    exportedAt: Instant,
    softwareVersion: Text(40),
    analysisVersion: Text(40),
    dogId: Id,
    sessions: Type.Array(Id, { uniqueItems: true, description: 'One folder each under sessions/' }),
    leftOut: Type.Array(
      Type.Object({ sessionId: Id, reason: Text(400) }, { ...closed, description: 'Sessions not in here' }),
    ),
    without: Type.Array(Type.Object({ path: Text(200), reason: Text(1000) }, closed), {
      description: 'Files that could not be made, or not whole, and why',
    }),
    files: Type.Array(
      Type.Object(
        { path: Text(200), bytes: Count, sha256: Type.String({ pattern: '^[0-9a-f]{64}$' }) },
        closed,
      ),
      { description: 'Every other file of the archive' },
    ),
  },
  { ...closed, title: 'What is in the archive' },
)
export type ManifestFile = Static<typeof ManifestFile>
