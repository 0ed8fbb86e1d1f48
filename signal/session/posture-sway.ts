import { restingRates, swayDegrees, trunkOrientation } from '../mount/orientation.ts'
import type { AxisRates, TrunkOrientation } from '../mount/orientation.ts'
import type { SwayDegreesReport } from '../report-types.ts'
import { piecesOf } from './dog-stretch.ts'
import type { DogStretch, Piece } from './dog-stretch.ts'
import type { Span } from './support.ts'

/**
 * Sway of the trunk as angles, for recordings with a gyroscope. The posture of a stretch is followed once,
 * when it is first asked for; the gyroscope's bias is what it shows over the reference stand.
 */
export class PostureSway {
  private readonly rateHz: number
  private readonly headingResolved: boolean
  private readonly bias: AxisRates | undefined
  private readonly followed = new Map<DogStretch, TrunkOrientation>()

  constructor(
    stretches: readonly DogStretch[],
    rateHz: number,
    headingResolved: boolean,
    reference: Span | null,
  ) {
    this.rateHz = rateHz
    this.headingResolved = headingResolved
    const [stand] = reference ? piecesOf(stretches, rateHz, reference) : []
    if (stand?.stretch.gyr) {
      this.bias = restingRates(stand.stretch.gyr, stand.from, stand.from + stand.samples)
    }
  }

  /**
   * RMS of pitch and roll about their means over the longest of the pieces, degrees; undefined without a
   * gyroscope. Tilt, √(pitch² + roll²), does not depend on the heading.
   */
  over(pieces: readonly Piece[]): SwayDegreesReport | undefined {
    const piece = pieces.reduce((best, p) => (p.samples > best.samples ? p : best))
    const { stretch, from, samples } = piece
    if (!stretch.gyr) return undefined
    let orientation = this.followed.get(stretch)
    if (!orientation) {
      orientation = trunkOrientation(stretch.raw, stretch.gyr, this.rateHz, { biasRadS: this.bias })
      this.followed.set(stretch, orientation)
    }
    const { pitchRmsDeg, rollRmsDeg } = swayDegrees(orientation, from, from + samples)
    const tiltRmsDeg = Math.hypot(pitchRmsDeg, rollRmsDeg)
    if (this.headingResolved) return { pitchRmsDeg, rollRmsDeg, tiltRmsDeg }
    const reason = 'heading unresolved: pitch and roll cannot be told apart'
    return { pitchRmsDeg: null, rollRmsDeg: null, tiltRmsDeg, reason }
  }
}
