import { expect } from 'vitest'
import type { Store } from '#server/store/store'
import { CHANNELS, truth } from './steady-sender.ts'

/** Expects the store to hold exactly samples [0, count) of a stream, each once and unchanged. */
export async function expectStored(store: Store, seed: number, count: number): Promise<void> {
  let next = 0
  for await (const block of store.series.readSamples(`steady-${seed}`, 0, Number.MAX_SAFE_INTEGER)) {
    expect(block.firstIndex, `stream ${seed}: the block after sample ${next}`).toBe(next)
    for (let axis = 0; axis < CHANNELS; axis++) {
      const column = block.values[axis]
      const wrong = column.findIndex((value, i) => value !== truth(seed, axis, next + i))
      expect(wrong, `stream ${seed}, axis ${axis}: a changed sample after ${next}`).toBe(-1)
    }
    next += block.count
  }
  expect(next, `stream ${seed}: samples stored`).toBe(count)
  expect(await store.series.lostRanges(`steady-${seed}`)).toEqual([])
  expect((await store.series.state(`steady-${seed}`)).nextIndex).toBe(count)
}
