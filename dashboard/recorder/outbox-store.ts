import type { MarkMessage } from '#protocol/messages'
import type { OutboxFrame } from '../lib/outbox'
import type { RecordingPlan } from './messages'

/** A stream that is on this device: being recorded, or left by an earlier page. */
export interface KeptStream {
  readonly recording: RecordingPlan
  /** The server has opened the session: opening it again would bring back a deleted one. */
  readonly opened: boolean
  /** The person finished it: when everything is stored, the session is too. */
  readonly finished: boolean
  /** One past the last sample taken, as far as it was kept. */
  readonly nextIndex: number
}

/** What is to be kept together. */
export interface Batch {
  readonly frames: readonly OutboxFrame[]
  readonly marks: readonly MarkMessage[]
  /** Said once the stream is complete. */
  readonly finished?: true
}

/** A stream with everything of it that the server has not confirmed. */
export interface KeptContent {
  readonly stream: KeptStream
  readonly frames: readonly OutboxFrame[]
  readonly marks: readonly MarkMessage[]
}

/** What is known of a stream without reading its samples. */
export interface KeptSummary {
  readonly stream: KeptStream
  readonly unsentSamples: number
  readonly unsentMarks: number
}

/**
 * What must survive a crash, a reload or an empty battery. A promise resolves when the change is
 * kept and rejects when it is not; everything may be said twice.
 */
export interface OutboxStore {
  begin(recording: RecordingPlan): Promise<void>
  opened(stream: string): Promise<void>
  keep(stream: string, batch: Batch): Promise<void>
  /** Frames that begin below `index` are on the server. */
  forgetBelow(stream: string, index: number): Promise<void>
  forgetMark(stream: string, id: string): Promise<void>
  /** All of it: it is stored on the server, or given up. */
  discard(stream: string): Promise<void>
  read(stream: string): Promise<KeptContent | null>
  list(): Promise<KeptSummary[]>
  close(): Promise<void>
}
