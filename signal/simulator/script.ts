/** What the simulator is told to play: dog, mount, sensor, clock and an ordered list of episodes. */
export interface SessionScript {
  readonly seed: number | string
  /** UTC microseconds of the first sample; null or absent when the trace should not tell. */
  readonly startedAtUs?: number | null
  /** Nominal sample rate, 25 to 200. */
  readonly rateHz: number
  readonly dog: SimulatedDog
  /** Default: sensor axes equal dog axes (x = CC, y = ML, z = DV), no slip. */
  readonly mount?: SimulatedMount
  readonly sensor?: SimulatedSensor
  readonly clock?: SimulatedClock
  readonly episodes: readonly Episode[]
  /** Rhythms laid over the episodes, in seconds from the start. */
  readonly overlays?: readonly Overlay[]
  /** How a person's marks lie in time; default: exactly. `none` leaves them out. */
  readonly marks?: 'exact' | 'none' | MarkTiming
}

export interface SimulatedDog {
  readonly weightKg: number
  readonly withersM: number
  /** Expected horizontal sway RMS of a 10 s stand on the floor (low-passed at 3.5 Hz), m/s². */
  readonly floorSwayMs2: number
  /** Sway on an unstable surface over sway on the floor. */
  readonly unstableFactor: number
  /** Share of the horizontal sway variance in ML, 0..1; default 0.45. */
  readonly mlShare?: number
  /** Natural frequency of the controlled trunk, CC and ML; default drawn around 0.55 Hz by size. */
  readonly naturalHz?: { readonly cc: number; readonly ml: number }
  readonly tremor?: SimulatedTremor | null
  readonly weakness?: Weakness
  /** Sway with hands on over sway with hands off, 0.3 to 0.7; default 0.5. */
  readonly handSupportFactor?: number
}

export interface SimulatedTremor {
  readonly frequencyHz: number
  /** RMS of the three axes together while it is on, m/s². */
  readonly rmsMs2: number
  /** Relative strength by axis; default 0.5, 0.6 and 0.7. */
  readonly weights?: { readonly cc: number; readonly ml: number; readonly dv: number }
  /** `holds`: in holds only; `standing`: in holds and quiet stands; or explicit bursts. */
  readonly when: 'holds' | 'standing' | readonly { readonly fromS: number; readonly toS: number }[]
}

/** How sway grows, as a share of the first repetition's value. */
export interface Weakness {
  /** Growth per 10 s within an unbroken stand. */
  readonly per10S: number
  readonly perRepetition: number
}

/** Rows are CC, ML, DV in sensor axes: dog = rotation · sensor. */
export type Rotation = readonly [Row, Row, Row]
export type Row = [number, number, number]

/** Turns of the sensor on the dog, degrees: yaw about DV, then pitch about ML, then roll about CC. */
export interface EulerDeg {
  readonly rollDeg: number
  readonly pitchDeg: number
  readonly yawDeg: number
}

export interface SimulatedMount {
  readonly rotation?: Rotation | EulerDeg
  /** From `atS` on the sensor sits turned by this much more (within about 0.3 s). */
  readonly slip?: { readonly atS: number; readonly turn: EulerDeg }
}

export interface SimulatedSensor {
  /** White noise per axis and sample, m/s² RMS; default 0.01. See `noiseRms` for data-sheet densities. */
  readonly noiseMs2?: number
  readonly biasMs2?: Row
  /** Gain error per axis: 0.02 reads 2 % too much. */
  readonly scaleError?: Row
  /** Size of one count, m/s²; 0 (default) for none. */
  readonly stepMs2?: number
  /** Largest magnitude the sensor shows per axis, m/s²; default 8 g. */
  readonly rangeMs2?: number
  readonly gyroscope?: boolean
  /** White noise of the gyroscope per axis and sample, rad/s RMS; default 0.002. */
  readonly gyroscopeNoiseRadS?: number
  readonly gyroscopeBiasRadS?: Row
}

export interface SimulatedClock {
  /** How much faster than nominal the sensor samples, parts per million. */
  readonly ppm?: number
  /** SD of the sampling instant around its even grid, s. The time stamps tell the true instants. */
  readonly jitterS?: number
}

export interface MarkTiming {
  /** Mean delay of a tap after the event, s, and its SD. */
  readonly lagS: number
  readonly sdS: number
}

export type Surface = 'floor' | 'foam pad' | 'rocker board'
export type Support = 'hands-off' | 'hands-on'

export type Episode =
  /** Square stance on the flat floor, hands off. */
  | { readonly kind: 'quiet-stand'; readonly durationS: number }
  /** Led steps straight ahead. */
  | { readonly kind: 'walk'; readonly durationS: number }
  /** Getting up on the surface: several footfalls and a pitch. Starts a repetition. */
  | { readonly kind: 'step-up'; readonly durationS: number; readonly peakMs2?: number }
  | HoldEpisode
  /** A corrective foot shuffle of 0.25 to 0.8 s. */
  | { readonly kind: 'step'; readonly durationS: number; readonly peakMs2?: number }
  /** Losing balance: a growing wobble, then off the surface. Ends the repetition. */
  | { readonly kind: 'wobble-off'; readonly durationS: number; readonly peakMs2?: number }
  /** Ends the repetition. */
  | { readonly kind: 'step-down'; readonly durationS: number; readonly peakMs2?: number }
  /** The hind end goes down, the trunk pitches nose up, stays, and comes back; at least 3 s. */
  | { readonly kind: 'sit'; readonly durationS: number; readonly pitchDeg: number }
  /** Down on the elbows or on the side, and up again; at least 4 s. */
  | { readonly kind: 'lie'; readonly durationS: number }
  /** On the floor between repetitions: treats, looking round, shuffling. Never still. */
  | { readonly kind: 'rest'; readonly durationS: number; readonly rmsMs2?: number }
  /** The handler adjusts the harness: irregular knocks. */
  | { readonly kind: 'handling'; readonly durationS: number; readonly peakMs2?: number }

export interface HoldEpisode {
  readonly kind: 'hold'
  readonly durationS: number
  readonly support: Support
  readonly surface: Surface
  /** Expected hands-off horizontal sway RMS here, m/s²; default floor sway times the dog's factor. */
  readonly swayMs2?: number
}

export type EpisodeKind = Episode['kind']

export type Overlay =
  /** Panting: 3.5 to 6.5 Hz, mainly DV and CC. `rmsMs2` over the three axes. */
  | {
      readonly kind: 'pant'
      readonly fromS: number
      readonly toS: number
      readonly frequencyHz: number
      readonly rmsMs2: number
    }
  /** Tail wag: 2 to 5 Hz, mainly ML and yaw. `rmsMs2` over the three axes. */
  | {
      readonly kind: 'tail-wag'
      readonly fromS: number
      readonly toS: number
      readonly frequencyHz: number
      readonly rmsMs2: number
    }
