import { PacketDecoder } from '#signal/packet/decode'
import type { PacketLayout } from '#signal/packet/layout'
import { PacketStream } from '#signal/packet/packet-stream'
import type { SourcePacket } from '../source'

/** So many unreadable packets one after the other are no accident. */
const MISFIT_AFTER = 10

/** Bytes of notifications to packets of samples; keeps count of what could not be read. */
export class PacketReader {
  readonly #decoder: PacketDecoder
  readonly #stream: PacketStream
  readonly #batteryLowMask: number
  #faultsInRow = 0
  #fault = ''
  #everRead = false
  faults = 0
  /** The sensor's own flag in its last packet. */
  batteryLow = false

  constructor(layout: PacketLayout) {
    this.#decoder = new PacketDecoder(layout)
    this.#stream = new PacketStream(layout)
    const bit = layout.header?.flags?.batteryLowBit
    this.#batteryLowMask = bit === undefined ? 0 : 2 ** bit
  }

  /** True when no packet carries a counter. */
  get lossUnknown() {
    return this.#stream.lossUnknown
  }

  /** What is wrong with the newest packets, when none of them can be read; else null. */
  get misfit(): { readonly message: string; readonly always: boolean } | null {
    if (this.#faultsInRow < MISFIT_AFTER) return null
    return { message: this.#fault, always: !this.#everRead }
  }

  linkRestored() {
    this.#stream.linkRestored()
  }

  /** The samples at their place; nothing for a repeated or an unreadable packet. */
  read(bytes: DataView, arrivedAtMs: number): SourcePacket[] {
    const decoded = this.#decoder.decode(bytes)
    if (decoded.kind === 'fault') {
      this.faults++
      this.#faultsInRow++
      this.#fault = decoded.message
      return []
    }
    this.#faultsInRow = 0
    this.#everRead = true
    this.batteryLow = decoded.flags !== null && Math.floor(decoded.flags / this.#batteryLowMask) % 2 === 1
    return this.#stream.take(decoded, arrivedAtMs).map(({ firstIndex, values, deviceTimeS, reckoned }) => ({
      firstIndex,
      arrivedAtMs,
      // Pieces of one packet share memory; whoever gets them may hand them to a Worker whole.
      values: values.map((one) => (one.byteLength === one.buffer.byteLength ? one : one.slice())),
      ...(deviceTimeS !== undefined && { deviceTimeS }),
      ...(reckoned && { reckoned }),
    }))
  }
}
