/** What the pictures of "What the numbers mean" are drawn from: SI units, rounded for drawing. */
export interface NumberPictures {
  /** Two hands-off holds of 10 s of one dog, steady and wobbly. */
  readonly steady: HoldPicture
  readonly wobbly: HoldPicture
  /** The quiet stand of the session of the steady hold. */
  readonly floor: HoldPicture
  /** The same amount of sway, once slow and once quick. */
  readonly slow: HoldPicture
  readonly quick: HoldPicture
  readonly stand: StandPicture
  readonly gap: GapPicture
  readonly session: SessionPicture
  readonly pieces: PiecesPicture
  /** A hold without and one with a tremor. */
  readonly noTremor: SpectrumPicture
  readonly tremor: SpectrumPicture
  readonly panting: DirectionPicture
  readonly wagging: DirectionPicture
  /** One hold seen by a sensor whose direction is stated, and by one that sits turned and unstated. */
  readonly heading: { readonly stated: HoldPicture; readonly unknown: HoldPicture }
  readonly fine: ReadingPicture
  readonly coarse: ReadingPicture
  /** Sway to compare of sessions of a dog that does not change, m/s², in order. */
  readonly unchanged: readonly number[]
}

export interface HoldPicture {
  readonly path: { readonly stepS: number; readonly ml: readonly number[]; readonly cc: readonly number[] }
  readonly ellipse: {
    readonly major: number
    readonly minor: number
    readonly angleDeg: number
    readonly area: number
  }
  readonly rms: number
  readonly rmsInterval: readonly [number, number]
  readonly pathRate: number
  readonly jerk: number
  readonly steadinessRatio: number
  /** ML, Hz. */
  readonly f50Hz: number | null
  readonly f95Hz: number | null
}

/** Smallest and largest ML acceleration per step, and what was found in it; seconds from its start. */
export interface StandPicture {
  readonly stepS: number
  readonly min: readonly (number | null)[]
  readonly max: readonly (number | null)[]
  readonly holds: readonly { readonly fromS: number; readonly toS: number; readonly handsOffS: number }[]
  readonly handsOff: readonly { readonly fromS: number; readonly toS: number }[]
  readonly steps: readonly { readonly fromS: number; readonly toS: number }[]
}

export interface GapPicture extends Omit<StandPicture, 'steps' | 'handsOff'> {
  readonly gaps: readonly { readonly fromS: number; readonly toS: number }[]
  readonly coverage: number
  readonly verdict: Verdict
}

/** The holds of a session of several repetitions, and what is said of all. */
export interface SessionPicture {
  readonly holds: readonly {
    readonly repetition: number
    readonly handsOnS: number
    readonly handsOffS: number
  }[]
  readonly repetitionSway: readonly number[]
  readonly lastOverFirst: number
  readonly handsOffHoldS: number
  readonly bestHoldS: number
  readonly supportShare: number
}

/** A long hands-off hold cut into 5 s pieces. */
export interface PiecesPicture {
  readonly stepS: number
  readonly ml: readonly number[]
  readonly pieceS: number
  readonly sway: readonly number[]
  readonly comparable: number
  readonly whole: number
}

export interface SpectrumPicture {
  readonly frequencyHz: readonly number[]
  readonly density: readonly number[]
  readonly rms: number
  readonly peakHz: number | null
}

/** Density side to side and up and down; the look-alike as the analysis flags it. */
export interface DirectionPicture {
  readonly frequencyHz: readonly number[]
  readonly ml: readonly number[]
  readonly dv: readonly number[]
  readonly peakHz: number
  readonly lookalike: string
}

export interface ReadingPicture {
  readonly stepS: number
  readonly ml: readonly number[]
  readonly verdict: Verdict
}

export type Verdict = 'good' | 'usable' | 'poor'
