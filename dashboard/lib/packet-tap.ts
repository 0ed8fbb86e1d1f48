import type { PacketLayout } from '#signal/packet/layout'

/** The raw notifications of a connected sensor, for looking at them. */
export interface PacketTap {
  /**
   * Hands over every packet as it came, with its time on the clock of `performance.now()`, until the returned
   * function is called. The last subscriber that leaves ends the connection.
   */
  subscribe(onPacket: (bytes: DataView, arrivedAtMs: number) => void): () => void
}

/** Asks the person for a sensor of this layout and connects to it; call it inside a tap. */
export type OpenTap = (layout: PacketLayout) => Promise<PacketTap>

const found = import.meta.glob<{ openTap: OpenTap }>('../sources/bluetooth/tap.ts')

/** Loads the way to a sensor; null where this build has none. */
export async function loadTap(): Promise<OpenTap | null> {
  const load = found['../sources/bluetooth/tap.ts']
  return load ? (await load()).openTap : null
}
