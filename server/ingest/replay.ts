import { setImmediate as nextTurn } from 'node:timers/promises'
import type { StoredMark } from '#protocol/messages'
import type { LivePipeline } from '#signal/live/pipeline'
import type { Mark } from '#signal/trace/trace'
import type { StreamRecord, TimeSeries } from '../store/time-series.ts'
import { acceleration } from './frame-columns.ts'

/** Blocks fed in one turn of the event loop. */
const BLOCKS_PER_TURN = 32

export interface ReplayInput {
  readonly pipeline: LivePipeline
  readonly series: TimeSeries
  readonly stream: StreamRecord
  /** Called when the stream has reached `atS` seconds, before what follows is fed. */
  readonly reached: (atS: number) => void
  readonly fromIndex: number
  readonly toIndex: number
}

/**
 * Feeds a live analyser with stored samples [fromIndex, toIndex), block by block as they came.
 */
export async function replay(input: ReplayInput): Promise<void> {
  const { pipeline, series, stream, fromIndex, toIndex, reached } = input
  let blocks = 0
  for await (const block of series.readSamples(stream.id, fromIndex, toIndex)) {
    reached(block.firstIndex / stream.rateHz)
    pipeline.push(block.firstIndex, acceleration(block))
    if (++blocks % BLOCKS_PER_TURN === 0) await nextTurn()
  }
  // Losses between samples show as index jumps; one at the end must be told.
  const lost = (await series.lostRanges(stream.id)).findLast((range) => range.firstIndex < toIndex)
  if (lost) pipeline.lost(lost.firstIndex, lost.count)
}

export function signalMark({ atS, kind, note }: StoredMark): Mark {
  return note === null ? { atS, kind } : { atS, kind, note }
}
