import { decodeFrame } from '#protocol/frames'
import type { Trace } from '#signal/trace/trace'
import type { KeptContent } from './outbox-store'

/**
 * What is kept of a stream on this device as a trace: samples the server has already are not in it.
 * Null when no sample is left. Marks before its first sample are left out.
 */
export function keptTrace({ stream, frames, marks }: KeptContent): Trace | null {
  const { rateHz, channels, startedAtUs } = stream.recording
  const decoded = frames.flatMap(({ bytes }) => (bytes ? [decodeFrame(bytes)] : []))
  if (decoded.length === 0) return null
  const fromIndex = decoded[0].firstIndex
  const n = decoded.reduce((sum, { count }) => sum + count, 0)
  const t = new Float64Array(n)
  const columns = Array.from({ length: channels }, () => new Float64Array(n))
  let at = 0
  for (const { firstIndex, count, values } of decoded) {
    for (let i = 0; i < count; i++) t[at + i] = (firstIndex + i - fromIndex) / rateHz
    values.forEach((channel, c) => columns[c].set(channel, at))
    at += count
  }
  const fromS = fromIndex / rateHz
  const [x, y, z, gx, gy, gz] = columns
  return {
    t,
    acc: { x, y, z },
    ...(channels === 6 && { gyr: { x: gx, y: gy, z: gz } }),
    startedAtUs: Math.round(startedAtUs + fromS * 1e6),
    rateHz,
    marks: marks
      .filter(({ atS }) => atS >= fromS)
      .map(({ atS, kind, note }) => ({ atS: atS - fromS, kind, ...(note !== undefined && { note }) })),
  }
}
