import type { SampleFrame } from '#protocol/frames'
import type { Trace } from '#signal/trace/trace'

export const SAMPLES_PER_PACKET = 10

/** Samples [firstIndex, firstIndex + 10) of a trace as a frame: float32, or lost. */
export function harnessFrame(
  trace: Trace,
  firstIndex: number,
  lost: boolean,
  arrivedAtUs: number,
): SampleFrame {
  const { x, y, z } = trace.acc
  const count = Math.min(SAMPLES_PER_PACKET, x.length - firstIndex)
  const channels = [x, y, z, ...(trace.gyr ? [trace.gyr.x, trace.gyr.y, trace.gyr.z] : [])]
  return {
    firstIndex,
    count,
    channels: trace.gyr ? 6 : 3,
    encoding: lost ? 'lost' : 'float32',
    arrivedAtUs,
    values: lost ? [] : channels.map((channel) => channel.subarray(firstIndex, firstIndex + count)),
  }
}
