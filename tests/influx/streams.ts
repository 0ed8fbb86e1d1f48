import type { Store } from '#server/store/store'
import type { SampleColumns } from '#server/store/time-series'
import { storedSamples } from '../helpers/stored-samples.ts'

export const STARTED_AT_US = 1_772_386_200_000_000
/** Of 100 Hz. */
export const PERIOD_US = 10_000

/** A stream of a session of its own, of one dog. */
export async function addStream(
  store: Store,
  id: string,
  dogId = 'dog-1',
  startedAtUs: number | null = STARTED_AT_US,
) {
  if (!(await store.records.dog(dogId))) await store.records.addDog({ id: dogId, name: 'Juniper' })
  await store.records.addSession({
    id: `session-${id}`,
    dogId,
    sensor: 'simulated harness',
    fileName: null,
    contentHash: null,
    setUp: null,
    mount: 'auto',
    state: 'recording',
    startedAtUs,
  })
  await store.series.addStream({
    id,
    sessionId: `session-${id}`,
    kind: 'live',
    columns: ['ax', 'ay', 'az'],
    rateHz: 100,
    startedAtUs,
    resolutionMs2: null,
    source: null,
  })
}

/** Exact in float32, different for every sample, axis and seed. */
export function valueAt(index: number, axis: number, seed = 0): number {
  return ((index * (7 + 4 * axis) + seed * 131 + axis) % 4096) / 128 - 16
}

export function columnsOf(firstIndex: number, count: number, seed = 0): SampleColumns {
  const values = [0, 1, 2].map((axis) =>
    Float32Array.from({ length: count }, (_, i) => valueAt(firstIndex + i, axis, seed)),
  )
  return { dtype: 'float32', values }
}

/** [index, ax, ay, az] of samples [0, count). */
export function rowsOf(count: number, seed = 0): number[][] {
  return Array.from({ length: count }, (_, i) => [i, ...[0, 1, 2].map((axis) => valueAt(i, axis, seed))])
}

export { storedSamples }
