import type { LiveStrip } from '#signal/live/live-types'

/** Length of the waveform that is kept, s. */
const KEPT_S = 30
/** What is older is cut off once it is this long, so that not every packet moves all of it. */
const SLACK_S = 10

interface Piece {
  fromS: number
  readonly stepS: number
  readonly ml: number[]
  readonly cc: number[]
}

/** The newest 30 s of waveform, in evenly spaced pieces between losses. */
export class StripHistory {
  #pieces: Piece[] = []

  /** Adds what is new; a strip that follows on the last one is joined to it. */
  add(next: LiveStrip): void {
    const last = this.#pieces.at(-1)
    if (last && last.stepS === next.stepS && Math.abs(endOf(last) - next.fromS) < next.stepS / 2) {
      for (const value of next.ml) last.ml.push(value)
      for (const value of next.cc) last.cc.push(value)
    } else {
      this.#pieces.push({ ...next, ml: [...next.ml], cc: [...next.cc] })
    }
    const oldestS = endOf(next) - KEPT_S
    const first = this.#pieces[0]
    if (endOf(first) <= oldestS) this.#pieces = this.#pieces.filter((piece) => endOf(piece) > oldestS)
    else if (first.fromS < oldestS - SLACK_S) cutBefore(first, oldestS)
  }

  clear(): void {
    this.#pieces = []
  }

  /** Copies of the pieces, cut to the newest 30 s. */
  newest(): LiveStrip[] {
    const last = this.#pieces.at(-1)
    if (!last) return []
    const oldestS = endOf(last) - KEPT_S
    const strips = this.#pieces.map((piece) => ({ ...piece, ml: [...piece.ml], cc: [...piece.cc] }))
    for (const strip of strips) cutBefore(strip, oldestS)
    return strips.filter(({ ml }) => ml.length > 0)
  }
}

function cutBefore(piece: Piece, oldestS: number): void {
  const excess = Math.max(0, Math.round((oldestS - piece.fromS) / piece.stepS))
  piece.fromS += excess * piece.stepS
  piece.ml.splice(0, excess)
  piece.cc.splice(0, excess)
}

function endOf({ fromS, stepS, ml }: LiveStrip): number {
  return fromS + ml.length * stepS
}
