import type { SensorMark } from './sensor.ts'
import type { RecordingKey } from './truth.ts'

/** What the process with the senders and viewers is asked to do. */
export type Order =
  | {
      readonly kind: 'begin'
      readonly seed: number
      /** The name and port the server answers to, whatever line leads there. */
      readonly host: string
      readonly cookie: string | null
      /** One stream each: the port of its line and the dog that wears the sensor. */
      readonly slots: readonly { readonly port: number; readonly dogId: string }[]
    }
  /** No new recordings; those under way come to their end. */
  | { readonly kind: 'end' }

/** One recording as its sender saw it. */
export interface RecordingAccount {
  readonly key: RecordingKey
  readonly session: string
  readonly dogId: string
  readonly stream: string
  /** UTC µs of sample 0. */
  readonly startedAtUs: number
  /** Samples the sensor took, lost ones included. */
  readonly total: number
  /** The server said that everything below is on its disk. */
  readonly acknowledged: number
  /** What `finished` said; null when it never came. */
  readonly finishedSamples: number | null
  /** Those the server confirmed. */
  readonly marks: readonly SensorMark[]
  readonly unconfirmedMarks: number
  readonly connections: number
  /** Samples sent again although the server had them. */
  readonly sentTwice: number
  /** The viewer was told the end. */
  readonly viewerSawEnd: boolean
}

/** What went by since the last one. */
export interface Progress {
  readonly atMs: number
  /** Over all recordings, lost samples included. */
  readonly taken: number
  readonly acknowledged: number
  readonly sendersConnected: number
  readonly viewersConnected: number
  readonly recordingsFinished: number
  /** Newest sample of a window reaches the sender → the window reaches the viewer, ms. */
  readonly latencyMs: { readonly p50: number; readonly p99: number; readonly max: number } | null
  /** Latest of all packets of the clients themselves, ms: a starved bench shows here. */
  readonly lateMs: number
}

export type Report =
  | { readonly kind: 'progress'; readonly progress: Progress }
  /** Something that must never happen; told as soon as it does. */
  | { readonly kind: 'violation'; readonly text: string }
  | { readonly kind: 'ended'; readonly recordings: readonly RecordingAccount[] }
