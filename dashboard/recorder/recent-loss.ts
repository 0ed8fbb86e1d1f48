import { lossShare } from '#signal/clock/loss'
import type { SourcePacket } from '../sources/source'

/** How far back losses count, ms. */
const WINDOW_MS = 30_000

/** The share of samples that never arrived, over the newest 30 s of packets. */
export class RecentLoss {
  #packets: { firstIndex: number; count: number; arrivedAtMs: number }[] = []

  add({ firstIndex, values, arrivedAtMs }: SourcePacket): void {
    if (firstIndex < (this.#packets.at(-1)?.firstIndex ?? 0)) return
    this.#packets.push({ firstIndex, count: values[0].length, arrivedAtMs })
    const from = this.#packets.findIndex((packet) => packet.arrivedAtMs >= arrivedAtMs - WINDOW_MS)
    if (from > 0) this.#packets.splice(0, from)
  }

  /** 0..1. */
  get share(): number {
    return lossShare(this.#packets)
  }
}
