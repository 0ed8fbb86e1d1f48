import { PAUSE_S } from '../session/repetitions.ts'
import { handsOffWithin, totalS } from '../session/support.ts'
import type { Span, Support } from '../session/support.ts'

/** Less hold time in a repetition than this makes no share, s. */
const MIN_HOLD_S = 2

/**
 * How much higher the hands-on share of each repetition's hold time is than in the first one. A repetition
 * is judged once it is over: marked ones at their end, others (grouped as in reports) 5 s after their last
 * hold. Repetitions of less than 2 s of hold, or from before the first support mark, do not count.
 */
export class SupportRise {
  private readonly holds: Span[] = []
  private firstShare: number | null = null
  /** Start of the newest repetition judged, s. */
  private judgedS = -Infinity
  /** Nothing is to be judged before this, s: spares looking ten times a second. */
  private dueS = -Infinity

  /** A hold that will not change any more, in order of time. */
  add(hold: Span): void {
    this.holds.push(hold)
    this.dueS = -Infinity
  }

  /**
   * The next repetition that is over and was not judged yet; null when there is none, or it says nothing.
   *
   * @param busyFromS start of a hold that may still change, infinite without one
   * @param marked repetitions people marked, ascending, the last without an end ending at infinity
   */
  next(
    nowS: number,
    busyFromS: number,
    marked: readonly Span[],
    support: Support,
  ): { rise: number; atS: number } | null {
    if (!support.known || (marked.length === 0 && nowS < this.dueS)) return null
    const isOver = ({ toS }: Span) => toS <= nowS && toS <= busyFromS
    const spans = marked.length > 0 ? marked : this.groups()
    const span = spans.find((one) => one.fromS > this.judgedS)
    if (!span) {
      this.dueS = Infinity
      return null
    }
    const over = marked.length > 0 ? isOver(span) : isOver({ fromS: span.fromS, toS: span.toS + PAUSE_S })
    if (!over) {
      this.dueS = span.toS + PAUSE_S
      return null
    }
    this.judgedS = span.fromS
    const share = this.handsOnShare(span, support)
    if (share === null) return null
    if (this.firstShare === null) {
      this.firstShare = share
      return null
    }
    return { rise: share - this.firstShare, atS: span.toS }
  }

  private handsOnShare(span: Span, support: Support): number | null {
    const inside = this.holds.filter(({ fromS, toS }) => {
      const middle = (fromS + toS) / 2
      return middle >= span.fromS && middle < span.toS
    })
    const holdS = totalS(inside)
    if (holdS < MIN_HOLD_S || inside.some(({ fromS }) => fromS < support.knownFromS)) return null
    return 1 - totalS(inside.flatMap((hold) => handsOffWithin(support, hold))) / holdS
  }

  /** Holds less than 5 s apart are one repetition. */
  private groups(): Span[] {
    const groups: { fromS: number; toS: number }[] = []
    for (const { fromS, toS } of this.holds) {
      const last = groups.at(-1)
      if (last && fromS - last.toS < PAUSE_S) last.toS = toS
      else groups.push({ fromS, toS })
    }
    return groups
  }
}
