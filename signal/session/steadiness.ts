import { median } from 'simple-statistics'
import type { Reference } from '../hold/reference.ts'
import type { ComparableReport } from '../report-types.ts'
import { PIECE_S, pieceSways } from './comparable.ts'
import type { PieceSpans } from './comparable.ts'

/**
 * Adds the steadiness ratio: comparable sway over the sway of the marked quiet stand on the floor of the same
 * recording, both medians over 5 s pieces, so that length does not enter. 1 is as steady as on the floor. The
 * day's own share (harness fit, mood, sensor gain) is in both and cancels; the scatter of the floor stand comes
 * in, and with it more noise from day to day when that stand is short.
 *
 * Null, with the reason, without comparable sway, without a marked quiet stand (only a marked one is surely on
 * the floor), and when no gap-free 5 s fit into it.
 *
 * @see the Romberg quotient, sway with eyes closed over sway with eyes open: one and the same subject in a
 * harder condition over an easy one (van Parys & Njiokiktjien 1976, Agressologie 17B:15–20, from memory). Only
 * the idea is taken over: a dog's surface is what is made harder here, and no norm of the quotient applies.
 */
export function withSteadiness(
  comparable: ComparableReport,
  reference: Pick<Reference, 'fromS' | 'toS' | 'basis'> | null,
  on: Omit<PieceSpans, 'spans'>,
): ComparableReport {
  const { swayRms } = comparable
  if (swayRms === null) return { ...comparable, steadinessRatio: null }
  if (reference?.basis !== 'quiet-stand marks') {
    return without(comparable, 'no quiet stand marked on the floor')
  }
  const floor = pieceSways({ ...on, spans: [reference] })
  if (floor.length === 0) return without(comparable, `the quiet stand holds no gap-free ${PIECE_S} s`)
  return { ...comparable, steadinessRatio: swayRms / median(floor) }
}

function without(comparable: ComparableReport, why: string): ComparableReport {
  const reason = `no steadiness ratio: ${why}`
  return {
    ...comparable,
    steadinessRatio: null,
    reason: comparable.reason ? `${comparable.reason}; ${reason}` : reason,
  }
}
