import { Type } from 'typebox'
import type { Static } from 'typebox'
import type { LiveHold, LiveReference, LiveStop, LiveStrip, LiveWindow } from '#signal/live/live-types'
import type { StopLimits } from '#signal/live/stop-limits'
import type { MarkKind } from '#signal/trace/trace'

/** Version of the live protocol; a hello or watch with another number is refused with a reason. */
export const PROTOCOL_VERSION = 1

export const Id = Type.String({ minLength: 1, maxLength: 64, pattern: '^[A-Za-z0-9_-]+$' })

/** Longer than any recording or trace: a moment beyond it is a mistake whatever the session's length turns out to be. */
export const MAX_SESSION_S = 172_800

/** A moment of a session, s from its start. */
export const Moment = Type.Number({ minimum: 0, maximum: MAX_SESSION_S })

/** Text that says something: at least one character that is not blank. */
export const Words = (maxLength: number) => Type.String({ minLength: 1, maxLength, pattern: '\\S' })

export const MarkKindSchema = Type.Union([
  Type.Literal('support-on'),
  Type.Literal('support-off'),
  Type.Literal('repetition-start'),
  Type.Literal('repetition-end'),
  Type.Literal('quiet-stand-start'),
  Type.Literal('quiet-stand-end'),
  Type.Literal('walk-start'),
  Type.Literal('walk-end'),
  Type.Literal('note'),
])

// --- sender → server (text messages; samples travel as binary frames, see frames.ts) ---

/** First message on /api/live/send. The stream id is made by the sender and survives reconnects. */
export const Hello = Type.Object(
  {
    type: Type.Literal('hello'),
    protocol: Type.Literal(PROTOCOL_VERSION),
    session: Id,
    stream: Id,
    rateHz: Type.Number({ minimum: 10, maximum: 1000 }),
    channels: Type.Union([Type.Literal(3), Type.Literal(6)]),
    /** UTC µs of sample 0. */
    startedAtUs: Type.Integer({ minimum: 0, maximum: Number.MAX_SAFE_INTEGER }),
    /** Smallest step the sensor reports, m/s². */
    resolutionMs2: Type.Optional(Type.Number({ exclusiveMinimum: 0 })),
  },
  { additionalProperties: false },
)

/** A mark at `atS` seconds of the stream; the same id again is ignored. */
export const MarkMessage = Type.Object(
  {
    type: Type.Literal('mark'),
    id: Id,
    atS: Moment,
    kind: MarkKindSchema,
    note: Type.Optional(Type.String({ maxLength: 500 })),
  },
  { additionalProperties: false },
)

/** The stream ends before index `nextIndex`; answered with `finished` once all of it is stored. */
export const Finish = Type.Object(
  { type: Type.Literal('finish'), stream: Id, nextIndex: Type.Integer({ minimum: 0 }) },
  { additionalProperties: false },
)

export const Ping = Type.Object(
  { type: Type.Literal('ping'), sentAtUs: Type.Number() },
  { additionalProperties: false },
)

export const SenderMessage = Type.Union([Hello, MarkMessage, Finish, Ping])
export type Hello = Static<typeof Hello>
export type MarkMessage = Static<typeof MarkMessage>
export type Finish = Static<typeof Finish>
export type SenderMessage = Static<typeof SenderMessage>

/** Viewers may send marks and pings. */
export const ViewerMessage = Type.Union([MarkMessage, Ping])
export type ViewerMessage = Static<typeof ViewerMessage>

// --- server → sender ---

/** Everything below `nextIndex` is stored: send from there. */
export interface Welcome {
  type: 'welcome'
  protocol: typeof PROTOCOL_VERSION
  stream: string
  nextIndex: number
  serverTimeUs: number
}

/** Everything below `nextIndex` is durable and may be forgotten by the sender. */
export interface Ack {
  type: 'ack'
  stream: string
  nextIndex: number
}

export interface Marked {
  type: 'marked'
  id: string
}

export interface Finished {
  type: 'finished'
  session: string
  stream: string
  samples: number
}

export interface Pong {
  type: 'pong'
  sentAtUs: number
  serverTimeUs: number
}

/** What was wrong and what to do; the socket closes after it when `fatal`. */
export interface ErrorMessage {
  type: 'error'
  code: string
  message: string
  fatal: boolean
}

/** A mark somebody else set, or one set before this connection: known ids are ignored. */
export interface MarkForSender {
  type: 'mark'
  mark: StoredMark
}

export type ServerToSender = Welcome | Ack | Marked | MarkForSender | Finished | Pong | ErrorMessage

// --- server → viewer (/api/live/watch?session=…) ---

export interface StoredMark {
  id: string
  atS: number
  kind: MarkKind
  note: string | null
}

/** The session so far: a viewer that joins late sees what the others saw. */
export interface Snapshot {
  type: 'snapshot'
  protocol: typeof PROTOCOL_VERSION
  session: string
  dogName: string
  rateHz: number
  startedAtUs: number
  /** Whether ML and CC are known, or only two horizontal directions. */
  headingResolved: boolean
  /** Seconds of signal received so far. */
  receivedS: number
  reference: LiveReference | null
  holds: LiveHold[]
  marks: StoredMark[]
  /** Newest window, and the history of [endS, swayMs2, tremorMs2] thinned to one a second. */
  window: LiveWindow | null
  history: [number, number | null, number | null][]
  /** The newest 30 s of waveform, in evenly spaced pieces between losses. */
  strips: LiveStrip[]
  /** What the plan of the day asks for; null when the session follows none. */
  planned: PlannedExercise | null
  /** Limits of the stop cue and where they come from. */
  limits: StopLimits
  /** Stop cues so far, in order. */
  stops: LiveStop[]
}

/** The part of a plan that the hold view shows. */
export interface PlannedExercise {
  planVersion: number
  exercise: string
  holdTargetS: number | null
  repetitions: number | null
}

export interface WindowMessage {
  type: 'window'
  window: LiveWindow
  /** What is new of the waveform. */
  strips: LiveStrip[]
  /** UTC µs at which the sender received the newest sample, for the latency shown to viewers. */
  sampleArrivedAtUs: number
  serverTimeUs: number
}

export interface HoldMessage {
  type: 'hold'
  hold: LiveHold
}

export interface ReferenceMessage {
  type: 'reference'
  reference: LiveReference
}

/** A limit was passed: time to stop. Each reason comes once, and again after a new reference. */
export interface StopMessage {
  type: 'stop'
  stop: LiveStop
}

export interface MarkAdded {
  type: 'mark'
  mark: StoredMark
}

/** Sender gone (`connected: false`) or back; silence must never mean fine. */
export interface SenderState {
  type: 'sender'
  connected: boolean
}

export interface SessionEnded {
  type: 'ended'
  session: string
}

export type ServerToViewer =
  | Snapshot
  | WindowMessage
  | HoldMessage
  | ReferenceMessage
  | StopMessage
  | MarkAdded
  | Marked
  | SenderState
  | SessionEnded
  | Pong
  | ErrorMessage
