import type { FrameScale } from '#protocol/frames'
import type { NewSession, Plan } from '#protocol/resources'
import type { ServerToViewer } from '#protocol/messages'
import type { MarkKind } from '#signal/trace/trace'
import type { SocketStatus } from '../lib/socket'

/**
 * Between the window, which hears the sensor, and the recorder, a Worker that keeps the outbox in
 * IndexedDB, speaks with the server and runs a live analyser of its own, so that the hold view of
 * the recording device works without a network.
 */

/** All a recording needs to begin without a network; the session is opened on the server later. */
export interface RecordingPlan {
  /** Made here, so that opening the session twice opens one. */
  readonly session: NewSession & { readonly id: string }
  readonly dogName: string
  readonly stream: string
  readonly rateHz: number
  readonly channels: 3 | 6
  readonly resolutionMs2?: number
  readonly scale?: FrameScale
  /** UTC µs of sample 0. */
  readonly startedAtUs: number
  /** The plan of the day, for the limits of the stop cue; null without one. */
  readonly plan: Plan | null
  /** Half of what that plan allows is asked for: on this device only. */
  readonly cutBack?: boolean
}

export type ToRecorder =
  | { type: 'begin'; recording: RecordingPlan; serverUrl: string }
  | { type: 'samples'; firstIndex: number; arrivedAtUs: number; values: readonly Float64Array[] }
  | { type: 'mark'; id: string; kind: MarkKind; atS: number; note?: string }
  | { type: 'finish' }
  | { type: 'retry' }
  /** A hold view opened: answered by `view` messages that show the session so far. */
  | { type: 'watch' }
  /** Instead of `begin`: sends what an earlier page left of a stream, and finishes it. */
  | { type: 'resume'; stream: string; serverUrl: string }

export type FromRecorder =
  /** What a viewer of the session would get, from the analyser of this device. */
  | { type: 'view'; message: ServerToViewer }
  | { type: 'progress'; progress: RecordingProgress }
  /** Everything is stored on the server and the session is finished. */
  | { type: 'finished' }
  /** The server refused for good, with this error code; what is in the outbox stays there. */
  | { type: 'refused'; message: string; code?: string }
  | { type: 'failed'; message: string }

export interface RecordingProgress {
  readonly status: SocketStatus
  readonly recordedS: number
  /** Seconds of signal that the server has not confirmed. */
  readonly unacknowledgedS: number
  /** Whether those are safe on this device, or only in memory (no IndexedDB). */
  readonly keptOnDevice: boolean
  readonly lostSamples: number
  /** Running fit of the sensor's clock; null in the first seconds. */
  readonly driftPpm: number | null
}
