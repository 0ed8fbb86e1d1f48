import type { FrameEncoding, FrameScale } from '#protocol/frames'
import { truth as waveform } from '../bench/live/waveform.ts'

/** Which recording: the slot of its sender, and how many that slot has begun before. */
export interface RecordingKey {
  readonly seed: number
  readonly slot: number
  readonly number: number
}

/** Half the width of what is added to the waveform, m/s² and rad/s: it makes every sample one of its kind. */
const NOISE = 0.02

/** A sensor of ±16 g and ±2000 °/s, 16 bits each; as float32, since that is how a frame carries it. */
export const INT16_SCALE: FrameScale = {
  accMs2PerCount: Math.fround((16 * 9.80665) / 32768),
  gyrRadSPerCount: Math.fround(((2000 / 180) * Math.PI) / 32768),
}

/** Every fourth sensor sends counts. */
export function encodingOf({ slot }: RecordingKey): Exclude<FrameEncoding, 'lost'> {
  return slot % 4 === 3 ? 'int16' : 'float32'
}

/**
 * What sample `index` of a recording reads on `channel`, exactly as the server must give it back. The
 * waveform alone comes round again; with the noise two samples agree on six channels by no chance.
 */
export function truthOf(key: RecordingKey): (channel: number, index: number) => number {
  const base = mixed(mixed(mixed(key.seed) ^ key.slot) ^ key.number)
  const isCounts = encodingOf(key) === 'int16'
  return (channel, index) => {
    const noise = (mixed(base ^ Math.imul(index * 6 + channel, 0x9e3779b1)) / 2 ** 32 - 0.5) * 2 * NOISE
    const value = waveform(key.slot, channel, index) + noise
    if (!isCounts) return Math.fround(value)
    const scale = channel < 3 ? INT16_SCALE.accMs2PerCount : INT16_SCALE.gyrRadSPerCount
    return Math.round(value / scale) * scale
  }
}

/** A 32-bit mixing function (the finaliser of MurmurHash3, public domain; from memory). */
function mixed(bits: number): number {
  let h = bits | 0
  h = Math.imul(h ^ (h >>> 16), 0x85ebca6b)
  h = Math.imul(h ^ (h >>> 13), 0xc2b2ae35)
  return (h ^ (h >>> 16)) >>> 0
}
