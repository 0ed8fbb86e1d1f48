import { setImmediate as nextTurn } from 'node:timers/promises'
import type { StoredMark } from '#protocol/messages'
import type { LivePipeline } from '#signal/live/pipeline'
import type { Mark } from '#signal/trace/trace'
import type { StreamRecord, TimeSeries } from '../store/time-series.ts'
import { acceleration } from './frame-columns.ts'

/** Samples fed in one turn of the event loop: some milliseconds of work. */
const SAMPLES_PER_TURN = 4096

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
 * Feeds a live analyser with stored samples [fromIndex, toIndex), a tenth of a second at a time: about
 * as packets bring them, however they are stored.
 */
export async function replay(input: ReplayInput): Promise<void> {
  const { pipeline, series, stream, fromIndex, toIndex, reached } = input
  const step = Math.max(1, Math.floor(stream.rateHz / 10))
  let fed = 0
  // A damaged block is a gap here: the recording it belongs to goes on.
  const leaveOut = () => undefined
  for await (const block of series.readSamples(stream.id, fromIndex, toIndex, leaveOut)) {
    const { x, y, z } = acceleration(block)
    for (let from = 0; from < block.count; from += step) {
      const [firstIndex, to] = [block.firstIndex + from, from + step]
      reached(firstIndex / stream.rateHz)
      pipeline.push(firstIndex, { x: x.subarray(from, to), y: y.subarray(from, to), z: z.subarray(from, to) })
    }
    fed += block.count
    if (fed < SAMPLES_PER_TURN) continue
    fed = 0
    await nextTurn()
  }
  // Losses between samples show as index jumps; one at the end must be told.
  const lost = (await series.lostRanges(stream.id)).findLast((range) => range.firstIndex < toIndex)
  if (lost) pipeline.lost(lost.firstIndex, lost.count)
}

export function signalMark({ atS, kind, note }: StoredMark): Mark {
  return note === null ? { atS, kind } : { atS, kind, note }
}
