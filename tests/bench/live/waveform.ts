import { encodeFrame } from '#protocol/frames'
import { JUNIPER } from '#signal/simulator/programme'
import { simulateSession } from '#signal/simulator/session'

export const RATE_HZ = 100
export const CHANNELS = 6
export const SAMPLES_PER_PACKET = 10
export const PACKET_MS = (1000 * SAMPLES_PER_PACKET) / RATE_HZ

/** Streams begin this many samples apart in the recording, so that no two do the same at one time. */
const SAMPLES_APART = 137

/** What the sensors of the bench read: a simulated session, played in a circle. */
const { trace } = simulateSession({
  seed: 7,
  rateHz: RATE_HZ,
  dog: JUNIPER,
  sensor: { noiseMs2: 0.012, stepMs2: 0.0048, gyroscope: true },
  episodes: [
    { kind: 'quiet-stand', durationS: 12 },
    { kind: 'step-up', durationS: 2 },
    { kind: 'hold', durationS: 14, support: 'hands-off', surface: 'foam pad' },
    { kind: 'step-down', durationS: 2 },
    { kind: 'rest', durationS: 5 },
    { kind: 'step-up', durationS: 2 },
    { kind: 'hold', durationS: 10, support: 'hands-off', surface: 'foam pad' },
    { kind: 'step-down', durationS: 2 },
  ],
})
const { acc, gyr } = trace
if (!gyr) throw new Error('the simulated sensor has no gyroscope')
const COLUMNS = [acc.x, acc.y, acc.z, gyr.x, gyr.y, gyr.z].map((column) => Float32Array.from(column))

/** What sample `index` of stream `stream` reads on `channel`, as float32. */
export function truth(stream: number, channel: number, index: number): number {
  const column = COLUMNS[channel]
  return column[(stream * SAMPLES_APART + index) % column.length]
}

/** Samples [firstIndex, firstIndex + 10) of a stream as they travel. */
export function packet(stream: number, firstIndex: number, arrivedAtUs: number): Uint8Array {
  const values = COLUMNS.map((_, channel) =>
    Float64Array.from({ length: SAMPLES_PER_PACKET }, (_, i) => truth(stream, channel, firstIndex + i)),
  )
  const count = SAMPLES_PER_PACKET
  return encodeFrame({ firstIndex, count, channels: CHANNELS, encoding: 'float32', arrivedAtUs, values })
}
