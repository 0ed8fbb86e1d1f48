import type { UnreadablePart } from '#protocol/unreadable-part'
import { ServerError } from '../errors.ts'
import type { Store } from '../store/store.ts'
import type { IndexRange, StreamRecord } from '../store/time-series.ts'

type Stores = Pick<Store, 'records' | 'series'>

/** What of a session cannot be read because stored samples are damaged, on the axis of its report; mostly nothing. */
export async function unreadableParts(store: Stores, sessionId: string): Promise<UnreadablePart[]> {
  const stream = await store.series.streamOfSession(sessionId)
  if (!stream) return []
  const ranges = await store.series.damaged(stream.id)
  if (ranges.length === 0) return []
  const scale = await store.records.timeScale(sessionId)
  const channels = stream.columns.filter((name) => name !== 't')
  const parts: UnreadablePart[] = []
  for (const range of ranges) {
    const endIndex = range.firstIndex + range.count
    const [fromS, toS] =
      stream.kind === 'live'
        ? [range.firstIndex, endIndex].map((index) => (index / stream.rateHz) * scale)
        : await stampsAround(store, stream, range)
    parts.push({ firstIndex: range.firstIndex, endIndex, fromS, toS, channels: [...channels] })
  }
  return parts
}

/** An uploaded trace brought its own times, and those of the part are damaged with it: from its last stamp to its next. */
async function stampsAround(
  { series }: Stores,
  stream: StreamRecord,
  { firstIndex, count }: IndexRange,
): Promise<[number, number]> {
  const stampAt = async (index: number): Promise<number | null> => {
    for await (const { values } of series.readSamples(stream.id, index, index + 1, () => undefined)) {
      return values[0][0]
    }
    return null
  }
  const before = firstIndex === 0 ? 0 : await stampAt(firstIndex - 1)
  const fromS = before ?? firstIndex / stream.rateHz
  return [fromS, (await stampAt(firstIndex + count)) ?? fromS + count / stream.rateHz]
}

/** @throws {ServerError} when a part of the session cannot be read: what rests on all of it is refused */
export async function requireReadable(store: Stores, sessionId: string): Promise<void> {
  const parts = await unreadableParts(store, sessionId)
  if (parts.length > 0) throw samplesUnreadable(sessionId, parts)
}

export function samplesUnreadable(
  sessionId: string,
  parts: readonly UnreadablePart[],
  cause?: unknown,
): ServerError {
  const extras = { sessionId, unreadable: [...parts] }
  return new ServerError('SAMPLES_UNREADABLE', { parts: partsInWords(parts) }, { cause, extras })
}

/** More than these are counted. */
const MOST_NAMED = 5

/** "20.4 s to 41.0 s, and 50.0 s to 60.1 s": never less than what is damaged. */
export function partsInWords(parts: readonly UnreadablePart[]): string {
  const words = parts.slice(0, MOST_NAMED).map(({ fromS, toS }) => {
    const [from, to] = [Math.floor(fromS * 10) / 10, Math.ceil(toS * 10) / 10]
    return `${from.toFixed(1)} s to ${to.toFixed(1)} s`
  })
  const others = parts.length - words.length
  return [...words, ...(others > 0 ? [`${others} more parts`] : [])].join(', and ')
}
