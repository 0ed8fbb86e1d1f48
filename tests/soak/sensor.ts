import type { MarkKind } from '#signal/trace/trace'
import { createRandom } from '#signal/simulator/random'
import { RATE_HZ, SAMPLES_PER_PACKET } from '../bench/live/waveform.ts'
import type { RecordingKey } from './truth.ts'

/** The radio loses single packets, and now and then all of them for a while. */
const LOST_PACKET = 0.004
const LOST_BURST = 0.0004
const BURST_PACKETS = [5, 60] as const
/** A mark every so often, s. */
const MARK_EVERY_S = [4, 25] as const
/** Recordings of the dog's minutes, s; what the first ones of a run have left is anything of it. */
const LENGTH_S = [60, 300] as const
/** Below this a recording says little, and the analysis has nothing to say. */
const SHORTEST_S = 15

const KINDS: readonly MarkKind[] = ['repetition-start', 'support-on', 'support-off', 'note', 'repetition-end']

export interface SensorPacket {
  readonly firstIndex: number
  readonly count: number
  readonly isLost: boolean
}

export interface SensorMark {
  readonly id: string
  readonly atS: number
  readonly kind: MarkKind
  readonly note: string | null
  /** From the screen that watches instead of from the sender. */
  readonly byViewer: boolean
}

/** What the sensor of one recording does, the same every time it is asked. */
export class Sensor {
  readonly #key: RecordingKey
  readonly #loss
  readonly #marks
  #nextIndex = 0
  #burstPackets = 0
  #marksMade = 0
  #nextMarkS: number

  constructor(key: RecordingKey) {
    this.#key = key
    const random = createRandom(`soak/${key.seed}/${key.slot}/${key.number}`)
    this.#loss = random.split('loss')
    this.#marks = random.split('marks')
    this.#nextMarkS = this.#marks.uniform(0.5, MARK_EVERY_S[1])
  }

  packet(): SensorPacket {
    const firstIndex = this.#nextIndex
    this.#nextIndex += SAMPLES_PER_PACKET
    if (this.#burstPackets > 0) this.#burstPackets--
    else if (this.#loss.uniform() < LOST_BURST)
      this.#burstPackets = Math.round(this.#loss.uniform(...BURST_PACKETS))
    const isLost = this.#burstPackets > 0 || this.#loss.uniform() < LOST_PACKET
    return { firstIndex, count: SAMPLES_PER_PACKET, isLost }
  }

  /** The marks somebody set up to now. */
  *newMarks(): Generator<SensorMark> {
    while (this.#nextMarkS <= this.#nextIndex / RATE_HZ) {
      const made = this.#marksMade++
      const kind = KINDS[made % KINDS.length]
      const { seed, slot, number } = this.#key
      yield {
        id: `soak-${seed}-${slot}-${number}-${made}`,
        atS: this.#nextMarkS,
        kind,
        note: kind === 'note' ? `the ${made}th of slot ${slot}` : null,
        byViewer: made % 3 === 2,
      }
      this.#nextMarkS += this.#marks.uniform(...MARK_EVERY_S)
    }
  }
}

/** How many samples a recording has when nobody ends it before. */
export function plannedSamples({ seed, slot, number }: RecordingKey): number {
  const random = createRandom(`soak/${seed}/${slot}/${number}/length`)
  const shortestS = number === 0 ? SHORTEST_S : LENGTH_S[0]
  return wholePackets(random.uniform(shortestS, LENGTH_S[1]) * RATE_HZ)
}

export const FEWEST_SAMPLES = wholePackets(SHORTEST_S * RATE_HZ)

function wholePackets(samples: number): number {
  return Math.ceil(samples / SAMPLES_PER_PACKET) * SAMPLES_PER_PACKET
}

export interface LostRange {
  readonly firstIndex: number
  readonly count: number
}

/** What the sensor of a recording of `total` samples lost, neighbours joined. */
export function lostRanges(key: RecordingKey, total: number): LostRange[] {
  const sensor = new Sensor(key)
  const lost: LostRange[] = []
  for (let packet = sensor.packet(); packet.firstIndex < total; packet = sensor.packet()) {
    if (packet.isLost) lost.push(packet)
  }
  return joined(lost)
}

/** The same ranges, those that touch joined. */
export function joined(ranges: readonly LostRange[]): LostRange[] {
  const all: LostRange[] = []
  for (const { firstIndex, count } of ranges) {
    const last = all.at(-1)
    if (last && last.firstIndex + last.count === firstIndex) {
      all[all.length - 1] = { firstIndex: last.firstIndex, count: last.count + count }
    } else {
      all.push({ firstIndex, count })
    }
  }
  return all
}
