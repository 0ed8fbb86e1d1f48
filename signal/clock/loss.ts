/** Samples taken but not received: [firstIndex, firstIndex + count). */
export interface LostRange {
  readonly firstIndex: number
  readonly count: number
}

/**
 * What was lost between packets: gaps in the index, never closed up. Packets that repeat or overlap what
 * came before lose nothing.
 *
 * @param packets in ascending order of their first index
 * @throws {RangeError} when a packet starts before the one before it, or holds no sample
 */
export function lostBetween(packets: readonly { firstIndex: number; count: number }[]): LostRange[] {
  const lost: LostRange[] = []
  packets.forEach(({ firstIndex, count }, i) => {
    if (!(count >= 1)) throw new RangeError(`lostBetween requires packets of 1 or more samples, got ${count}`)
    if (i === 0) return
    if (firstIndex < packets[i - 1].firstIndex) {
      throw new RangeError(
        `lostBetween requires ascending packets, got ${firstIndex} after ${packets[i - 1].firstIndex}`,
      )
    }
  })
  let next = packets.length === 0 ? 0 : packets[0].firstIndex
  for (const { firstIndex, count } of packets) {
    if (firstIndex > next) lost.push({ firstIndex: next, count: firstIndex - next })
    next = Math.max(next, firstIndex + count)
  }
  return lost
}

/** Lost samples over all samples taken between the first and the last packet, 0 to 1; 0 without packets. */
export function lossShare(packets: readonly { firstIndex: number; count: number }[]): number {
  const lost = lostBetween(packets).reduce((sum, { count }) => sum + count, 0)
  const end = packets.reduce((most, { firstIndex, count }) => Math.max(most, firstIndex + count), -Infinity)
  return packets.length === 0 ? 0 : lost / (end - packets[0].firstIndex)
}
