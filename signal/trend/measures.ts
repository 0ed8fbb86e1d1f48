/** On a log scale a change is a ratio (sway, power); on a linear one it is a difference (seconds). */
export type TrendScale = 'log' | 'linear'

export type MeasureName =
  | 'swayRms'
  | 'pathRate'
  | 'jerk'
  | 'steadinessRatio'
  | 'tremorRms'
  | 'bestHoldS'
  | 'handsOffHoldS'
  | 'supportShare'

/** What a measure is called, how it is analysed and what its directions mean. */
export interface TrendMeasure {
  /** As a sentence begins. */
  readonly label: string
  /** Unit of the values: '1' for a share of a whole, '×' for a multiple. */
  readonly unit: string
  readonly scale: TrendScale
  /** Words for a change beyond noise. They say what was measured, not whether it is good. */
  readonly fall: ChangeWord
  readonly rise: ChangeWord
  /** Measured on 5 s pieces of hold time: a session of few pieces is weak. */
  readonly onPieces: boolean
  /** Panting, wagging or handling can pass for it: flagged sessions stay out unless asked for. */
  readonly hasLookAlikes: boolean
}

export type ChangeWord =
  | 'steadier'
  | 'less steady'
  | 'less tremor'
  | 'more tremor'
  | 'longer holds'
  | 'shorter holds'
  | 'less support'
  | 'more support'

const SWAY = {
  scale: 'log',
  fall: 'steadier',
  rise: 'less steady',
  onPieces: true,
  hasLookAlikes: false,
} as const
const HOLD = {
  unit: 's',
  scale: 'linear',
  fall: 'shorter holds',
  rise: 'longer holds',
  onPieces: false,
  hasLookAlikes: false,
} as const

/**
 * Measures that have a trend. Sway and tremor are positive and their noise grows with them: logs. Hold
 * times can be 0 and the share of support lies in 0..1: linear. Sway, steadiness ratio and tremor are those of
 * `ComparableReport`, the others of `SessionReport`.
 *
 * The fatigue ratio (last repetition over first) has no trend: it is a quotient of two single repetitions, so
 * its noise is √2 times theirs; how many repetitions lie between them changes with the plan; and a handler who
 * stops a tiring dog early makes it smaller on the very days it should be large.
 */
export const TREND_MEASURES: Readonly<Record<MeasureName, TrendMeasure>> = {
  swayRms: { label: 'Sway', unit: 'm/s²', ...SWAY },
  pathRate: { label: 'Sway path per second', unit: 'm/s³', ...SWAY },
  jerk: { label: 'Sway jerk', unit: 'm²/s⁵', ...SWAY },
  steadinessRatio: { label: 'Sway as a multiple of sway on the floor', unit: '×', ...SWAY },
  tremorRms: {
    label: 'Tremor',
    unit: 'm/s²',
    scale: 'log',
    fall: 'less tremor',
    rise: 'more tremor',
    onPieces: true,
    hasLookAlikes: true,
  },
  bestHoldS: { label: 'Best hold', ...HOLD },
  handsOffHoldS: { label: 'Hands-off hold time', ...HOLD },
  supportShare: {
    label: 'Share of hold time with support',
    unit: '1',
    scale: 'linear',
    fall: 'less support',
    rise: 'more support',
    onPieces: false,
    hasLookAlikes: false,
  },
}
