import type { SensorPacket } from './sensor.ts'

export interface KeptPacket extends SensorPacket {
  readonly arrivedAtUs: number
}

/** What a sender keeps: every packet until it is acknowledged, and really none after that. */
export class Outbox {
  #packets: KeptPacket[] = []
  /** Place in `#packets` of the next one to send. */
  #next = 0

  get isSent(): boolean {
    return this.#next === this.#packets.length
  }

  /** Packets on their way. */
  get sent(): number {
    return this.#next
  }

  add(packet: KeptPacket): void {
    this.#packets.push(packet)
  }

  /** Forgets what lies below `nextIndex`. */
  forget(nextIndex: number): void {
    let known = 0
    while (known < this.#packets.length && endOf(this.#packets[known]) <= nextIndex) known++
    this.#packets.splice(0, known)
    this.#next = Math.max(0, this.#next - known)
  }

  /** Sends again from `nextIndex` on; gives the index it really begins at, null when nothing is kept. */
  rewind(nextIndex: number): number | null {
    this.#next = this.#packets.findIndex((packet) => endOf(packet) > nextIndex)
    if (this.#next < 0) this.#next = this.#packets.length
    return this.#packets.at(this.#next)?.firstIndex ?? null
  }

  take(): KeptPacket | undefined {
    return this.isSent ? undefined : this.#packets[this.#next++]
  }
}

function endOf({ firstIndex, count }: SensorPacket): number {
  return firstIndex + count
}
