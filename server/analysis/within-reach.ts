import type { Store } from '../store/store.ts'

/**
 * That the samples of a session can be read at the moment; its first one stands for all of them.
 * @throws {SeriesUnavailableError}
 */
export async function requireWithinReach(store: Pick<Store, 'series'>, sessionId: string): Promise<void> {
  const stream = await store.series.streamOfSession(sessionId)
  if (!stream) return
  const first = store.series.readSamples(stream.id, 0, 1, () => undefined)
  await first[Symbol.asyncIterator]().next()
}
