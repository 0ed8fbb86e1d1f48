/** Motion window in ticks of 0.1 s: 1 s. */
export const MOTION_WINDOW_TICKS = 10

/** Limits of the hold detector. Times in s, angles in degrees, motion as RMS in m/s². */
export interface HoldSettings {
  /** Slow motion (below 3.5 Hz) counts against the floor's times this … */
  readonly slowRatio: number
  /** … where the floor's counts as at least this, so that a very still quiet stand is no trap … */
  readonly slowFloorMs2: number
  /** … and as at most this: a restless quiet stand must not make steps look like standing. */
  readonly slowCeilingMs2: number
  /** The same for fast motion (above 4 Hz): tremor and panting are no reason to call a hold broken. */
  readonly fastRatio: number
  readonly fastFloorMs2: number
  readonly fastCeilingMs2: number
  /** A hold is entered when T stays below 1 for this long. */
  readonly enterS: number
  /** A hold is left when T stays above this … */
  readonly leaveT: number
  /** … for this long, … */
  readonly leaveS: number
  /** … or when fast motion over 0.3 s exceeds this many times its own recent level (a paw set down) … */
  readonly burstRatio: number
  /** … and at least this. */
  readonly burstMs2: number
  /** A push: slow motion over 0.3 s lies this many times the recent sway away from its mean … */
  readonly pushRatio: number
  /** … and at least this far. */
  readonly pushMs2: number
  /** Trunk pitch or roll beyond this from the reference stance is not the stance. */
  readonly tiltDeg: number
  /** Holds separated by less than this are one. */
  readonly mergeS: number
  /** Shorter holds are not kept. */
  readonly minHoldS: number
}

export const DEFAULT_HOLD_SETTINGS: HoldSettings = {
  slowRatio: 5.5,
  slowFloorMs2: 0.07,
  slowCeilingMs2: 0.11,
  fastRatio: 3,
  fastFloorMs2: 0.1,
  fastCeilingMs2: 0.15,
  enterS: 0.5,
  leaveT: 2.5,
  leaveS: 0.3,
  burstRatio: 2.5,
  burstMs2: 0.2,
  pushRatio: 4,
  pushMs2: 0.5,
  tiltDeg: 15,
  mergeS: 0.3,
  minHoldS: 1,
}
