import { STANDARD_GRAVITY_MS2 } from '#signal/constants'
import { PacketDecoder } from '#signal/packet/decode'
import type { DecodedPacket, PacketFault } from '#signal/packet/decode'
import type { PacketLayout } from '#signal/packet/layout'
import { healthWarnings, packetHealth } from '#signal/packet/packet-health'
import { PacketStream } from '#signal/packet/packet-stream'

/** What the newest packets of a sensor say, for a person who checks its layout. */
export interface PreviewState {
  readonly bytes: DataView
  readonly packet: DecodedPacket | PacketFault
  readonly packets: number
  readonly faults: number
  readonly packetsPerS: number
  /** Measured from the arrivals, samples a second. */
  readonly rateHz: number
  readonly lostSamples: number
  readonly lossUnknown: boolean
  readonly droppedPackets: number
  readonly batteryLow: boolean
  /** Of the newest second; null while no packet could be read. */
  readonly recent: RecentReadings | null
  readonly warnings: readonly string[]
}

export interface RecentReadings {
  /** Mean per axis, m/s². */
  readonly meanMs2: readonly [number, number, number]
  /** Mean length of the acceleration, g. */
  readonly lengthG: number
  readonly still: boolean
}

const RECENT_S = 1
/** Rates are shown once they say something. */
const MIN_RATE_SPAN_S = 2

/** Follows the raw packets of one sensor. Not reactive: packets come faster than a screen should change. */
export class PacketPreview {
  readonly #layout: PacketLayout
  readonly #decoder: PacketDecoder
  readonly #stream: PacketStream
  #recent: { arrivedAtMs: number; values: readonly Float64Array[] }[] = []
  #bytes: DataView | null = null
  #packet: DecodedPacket | PacketFault | null = null
  #packets = 0
  #faults = 0
  #arrivals: number[] = []
  #batteryLow = false

  constructor(layout: PacketLayout) {
    this.#layout = layout
    this.#decoder = new PacketDecoder(layout)
    this.#stream = new PacketStream(layout)
  }

  take(bytes: DataView, arrivedAtMs: number): void {
    const packet = this.#decoder.decode(bytes)
    this.#bytes = bytes
    this.#packet = packet
    this.#packets++
    this.#arrivals.push(arrivedAtMs)
    while (this.#arrivals[0] < arrivedAtMs - 10_000) this.#arrivals.shift()
    if (packet.kind === 'fault') {
      this.#faults++
      return
    }
    const bit = this.#layout.header?.flags?.batteryLowBit
    this.#batteryLow = bit !== undefined && Math.floor((packet.flags ?? 0) / 2 ** bit) % 2 === 1
    for (const { values } of this.#stream.take(packet, arrivedAtMs))
      this.#recent.push({ arrivedAtMs, values })
    while (this.#recent.length > 1 && this.#recent[0].arrivedAtMs < arrivedAtMs - RECENT_S * 1000)
      this.#recent.shift()
  }

  /** As it is now; null before the first packet. */
  state(): PreviewState | null {
    if (this.#bytes === null || this.#packet === null) return null
    const joined = this.#joined()
    const health = joined && packetHealth(this.#layout, joined)
    const arrivals = this.#arrivals
    const spanS = (arrivals[arrivals.length - 1] - arrivals[0]) / 1000
    return {
      bytes: this.#bytes,
      packet: this.#packet,
      packets: this.#packets,
      faults: this.#faults,
      packetsPerS: spanS >= MIN_RATE_SPAN_S ? (arrivals.length - 1) / spanS : 0,
      rateHz: this.#stream.rateHz,
      lostSamples: this.#stream.lostSamples,
      lossUnknown: this.#stream.lossUnknown,
      droppedPackets: this.#stream.droppedPackets,
      batteryLow: this.#batteryLow,
      recent: joined &&
        health && {
          meanMs2: [mean(joined[0]), mean(joined[1]), mean(joined[2])],
          lengthG: health.meanG,
          still: health.still,
        },
      warnings: [...(health ? healthWarnings(health) : []), ...this.#rateWarning()],
    }
  }

  #joined(): Float64Array[] | null {
    const pieces = this.#recent
    if (pieces.length === 0) return null
    return pieces[0].values.map((_, c) => Float64Array.from(pieces.flatMap(({ values }) => [...values[c]])))
  }

  #rateWarning(): string[] {
    const { nominalRateHz } = this.#layout
    const off = this.#stream.rateHz / nominalRateHz
    if (off > 0.8 && off < 1.25) return []
    const counts = this.#stream.rateHz.toFixed(0)
    return [`About ${counts} samples a second come, but the layout says ${nominalRateHz}. Correct the rate.`]
  }
}

/** The axis that gravity lies on, when the sensor is still and one axis has nearly all of it. */
export function upwardAxis({
  meanMs2,
  still,
}: RecentReadings): { axis: 'x' | 'y' | 'z'; readsMs2: number } | null {
  if (!still) return null
  const length = Math.hypot(...meanMs2)
  const k = [0, 1, 2].reduce((most, i) => (Math.abs(meanMs2[i]) > Math.abs(meanMs2[most]) ? i : most), 0)
  // Within 25° of the axis, and of a size that can be gravity.
  const isAlong = Math.abs(meanMs2[k]) > length * Math.cos((25 * Math.PI) / 180)
  const isGravity = Math.abs(length / STANDARD_GRAVITY_MS2 - 1) < 0.3
  return isAlong && isGravity ? { axis: (['x', 'y', 'z'] as const)[k], readsMs2: meanMs2[k] } : null
}

function mean(values: Float64Array): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length
}
