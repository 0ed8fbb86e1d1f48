import type { Component } from 'svelte'
import type { NewSession } from '#protocol/resources'
import type { Mark } from '#signal/trace/trace'

/**
 * Where samples come from: a Bluetooth sensor, this phone, a recorded trace, the simulated harness.
 * Each source is one folder beside this file; its `choice.ts` exports a `SourceChoice`, and
 * `all-sources.ts` finds it there.
 */

/** What a source tells before its first packet. */
export interface SourceInfo {
  /** As the sensor states it; the rate its packets keep is measured while it is watched. */
  readonly nominalRateHz: number
  readonly channels: 3 | 6
  /** Smallest step of the acceleration, m/s², when known. */
  readonly resolutionMs2?: number
  /** Counts and their size, when every sample is an exact multiple: such samples travel as int16. */
  readonly scale?: { readonly accMs2PerCount: number; readonly gyrRadSPerCount: number }
  /** How the sensor sits, as `parseMount` reads it, when the source knows it. */
  readonly mount?: string
  /** What the recording should keep about the sensor: name, packet layout and its hash. */
  readonly description?: SensorDescription
}

export interface SensorDescription {
  readonly name: string
  readonly layoutHash?: string
  /** The packet layout itself, as JSON. */
  readonly layout?: unknown
  readonly batteryPercent?: number
}

/**
 * Samples as they arrived. `firstIndex` counts the sensor's samples from 0 at the first packet and
 * ascends; a jump means samples that never arrived. Values are SI: m/s² of specific force, rad/s.
 */
export interface SourcePacket {
  readonly firstIndex: number
  /** When the last sample reached this device, ms on the clock of `performance.now()`. */
  readonly arrivedAtMs: number
  /** Time of the last sample on the sensor's own clock, s, unwrapped, when the sensor tells it. */
  readonly deviceTimeS?: number
  /** One array of equal length per channel. */
  readonly values: readonly Float64Array[]
  /** True when the sensor began anew and `firstIndex` was reckoned from the clock of this device. */
  readonly reckoned?: boolean
}

export type SourcePhase =
  | 'connecting'
  | 'streaming'
  /** Connected, but nothing has come for 1.5 s. */
  | 'stalled'
  | 'reconnecting'
  /** Only a tap of a person can bring it back: show a Reconnect button that calls `reconnect`. */
  | 'needs-tap'
  | 'ended'
  | 'failed'

export interface SourceState {
  readonly phase: SourcePhase
  /** A sentence for a person: what is going on, and for `needs-tap` and `failed` what to do. */
  readonly words: string
}

/** Called in order, never after `stop()`. */
export interface SourceHandlers {
  onInfo(info: SourceInfo): void
  onPacket(packet: SourcePacket): void
  onState(state: SourceState): void
  /** A mark the source brings itself (the simulated handler's), seconds since its sample 0. */
  onMark(mark: Mark): void
  /** There is nothing more to come. */
  onEnd(): void
}

export interface SensorSource {
  readonly sensor: NewSession['sensor']
  /** Begins to deliver; called once, inside the tap that chose the source. */
  start(handlers: SourceHandlers): void
  stop(): void
  /** Told when the recording begins, before its first packet; a replay begins anew at its first sample. */
  recordingBegins?(): void
  /** Runs inside a tap: asks the person for the sensor again, the quickest way back. */
  reconnect?(): void
}

/** What the set-up part of a source is given, and whom it tells. */
export interface SourceSetupProps {
  readonly dogId: string
  /** Opens the session that another device will record (a phone): the same set-up as shown here. */
  readonly openSession: () => Promise<{ id: string }>
  /** A source of this device is ready to start; call it inside the tap. */
  readonly onready: (source: SensorSource) => void
  /** Another device records the session. */
  readonly onremote: (sessionId: string) => void
}

export interface SourceChoice {
  readonly sensor: NewSession['sensor']
  /** Order in the list, ascending. */
  readonly order: number
  readonly title: string
  /** One or two sentences: what it needs, and what it cannot do. */
  readonly explanation: string
  /** Why this browser cannot use it and what to do instead; null when it can. */
  unavailable(): string | null
  /** Its own part of the Before you start screen, loaded when chosen. */
  readonly Setup: () => Promise<{ default: Component<SourceSetupProps> }>
}
