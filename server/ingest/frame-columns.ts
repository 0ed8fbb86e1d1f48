import type { SampleFrame } from '#protocol/frames'
import type { Vector3Series } from '#signal/trace/trace'
import type { SampleColumns } from '../store/time-series.ts'

const CHANNEL_NAMES = ['ax', 'ay', 'az', 'gx', 'gy', 'gz']

export function liveColumnNames(channels: 3 | 6): string[] {
  return CHANNEL_NAMES.slice(0, channels)
}

/**
 * The samples of a frame after the first `skip`, as they are stored. float32 frames are stored as
 * float32; int16 frames become SI values that float32 cannot hold exactly, so they keep float64.
 */
export function storedColumns(frame: SampleFrame, skip: number): SampleColumns {
  if (frame.encoding === 'float32') {
    return {
      dtype: 'float32',
      values: frame.values.map((column) => new Float32Array(column.subarray(skip))),
    }
  }
  return { dtype: 'float64', values: frame.values.map((column) => column.subarray(skip)) }
}

/** Acceleration of stored live columns, for the analyser. */
export function acceleration({ values: [x, y, z] }: SampleColumns): Vector3Series {
  return { x: new Float64Array(x), y: new Float64Array(y), z: new Float64Array(z) }
}
