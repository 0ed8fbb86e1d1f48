import { STANDARD_GRAVITY_MS2 } from '../constants.ts'
import { integerRange } from './field-type.ts'
import type { PacketLayout } from './layout.ts'
import { orderedChannels, siPerUnit } from './units.ts'

/** What a stretch of samples says about the sensor and its layout. */
export interface PacketHealth {
  readonly samples: number
  /** Share of samples with an axis of acceleration at the end of its range, 0 to 1. */
  readonly saturatedShare: number
  /** Ten samples or more, and all the same: a sensor always has some noise. */
  readonly allEqual: boolean
  /** Mean length of the acceleration, in units of g. */
  readonly meanG: number
  /** The length hardly changes: what it is, is gravity. */
  readonly still: boolean
}

/** An acceleration that varies less than this, in g (standard deviation), is of a sensor at rest (our choice). */
const STILL_G = 0.05
/** At rest the length of the acceleration must lie here, in g: 1 with room for an uncalibrated sensor. */
const REST_G: readonly [number, number] = [0.8, 1.2]
const MIN_SAMPLES = 10
/** Above this share of clipped samples there is a warning (our choice). */
const SATURATED_SHARE = 0.01

/**
 * The health of samples of one layout, one packet or several.
 *
 * @param values as `DecodedPacket.values`: m/s² of specific force first, one array per channel
 * @throws {RangeError} without samples
 */
export function packetHealth(layout: PacketLayout, values: readonly Float64Array[]): PacketHealth {
  const samples = values[0].length
  if (samples === 0) throw new RangeError('packetHealth requires at least one sample')
  const limits = accelerationLimits(layout)
  let saturated = 0
  let allEqual = samples >= MIN_SAMPLES
  let sum = 0
  let squares = 0
  for (let i = 0; i < samples; i++) {
    if (limits.some(([low, high], c) => values[c][i] <= low || values[c][i] >= high)) saturated++
    if (values.some((channel) => channel[i] !== channel[0])) allEqual = false
    const lengthG = Math.hypot(values[0][i], values[1][i], values[2][i]) / STANDARD_GRAVITY_MS2
    sum += lengthG
    squares += lengthG * lengthG
  }
  const meanG = sum / samples
  const deviationG = Math.sqrt(Math.max(0, squares / samples - meanG * meanG))
  return {
    samples,
    saturatedShare: saturated / samples,
    allEqual,
    meanG,
    // Relative above 1 g, so that a wrong unit does not hide that the sensor is at rest.
    still: samples >= MIN_SAMPLES && deviationG < STILL_G * Math.max(1, meanG),
  }
}

/** Readings at or beyond these are at the end of the range: [lower, upper] in m/s² for x, y, z. */
function accelerationLimits(layout: PacketLayout): [number, number][] {
  return orderedChannels(layout)
    .slice(0, 3)
    .map((channel) => {
      const step = channel.scale * siPerUnit(layout, channel)
      const zero = (channel.bias ?? 0) * siPerUnit(layout, channel)
      const range = integerRange(channel.type)
      const stated = layout.rangeMs2 ?? Infinity
      // The last step counts too: two's complement ends one count earlier above than below.
      const limits = [-stated, stated].map((end) => end - Math.sign(end) * (range ? 1.5 * Math.abs(step) : 0))
      if (!range) return [limits[0], limits[1]]
      const ends = [(range[0] + 1.5) * step + zero, (range[1] - 0.5) * step + zero].sort((a, b) => a - b)
      return [Math.max(limits[0], ends[0]), Math.min(limits[1], ends[1])]
    })
}

/** Likely slips of unit: how many times too large readings at rest then are. */
const UNIT_SLIPS: readonly [factor: number, words: string][] = [
  [STANDARD_GRAVITY_MS2, 'The readings look like m/s² taken for g.'],
  [1 / STANDARD_GRAVITY_MS2, 'The readings look like g taken for m/s².'],
  [1000, 'The readings look like mg taken for g.'],
  [1 / 1000, 'The readings look like g taken for mg.'],
  [1000 / STANDARD_GRAVITY_MS2, 'The readings look like mg taken for m/s².'],
  [STANDARD_GRAVITY_MS2 / 1000, 'The readings look like m/s² taken for mg.'],
]

/** What a person should know and do about it, a sentence or two each; empty when all is plausible. */
export function healthWarnings({ saturatedShare, allEqual, meanG, still }: PacketHealth): string[] {
  const warnings: string[] = []
  if (saturatedShare > SATURATED_SHARE) {
    warnings.push(
      `${Math.round(saturatedShare * 100)} % of the samples stand at the end of the range. ` +
        'Let the sensor use a larger range, or correct the range in the layout.',
    )
  }
  if (allEqual) {
    warnings.push('Every sample is the same: the sensor sends, but does not measure. Switch it off and on.')
  }
  if (still && !(meanG >= REST_G[0] && meanG <= REST_G[1])) {
    const slip = UNIT_SLIPS.find(([factor]) => Math.abs(meanG / factor - 1) <= 0.2)
    warnings.push(
      `At rest the sensor reads ${Number(meanG.toPrecision(2))} g where 1 g is right. ` +
        (slip ? slip[1] : 'Check the scale, the unit and the place of the channels.'),
    )
  }
  return warnings
}
