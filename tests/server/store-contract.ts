import fc from 'fast-check'
import { beforeEach, describe, expect, it } from 'vitest'
import { DuplicateContentError } from '#server/store/records'
import type { Store } from '#server/store/store'
import { StreamGapError, StreamMissingError } from '#server/store/time-series'
import type { SampleBlock, SampleColumns, StreamRecord } from '#server/store/time-series'

const SESSION = {
  id: 'session-1',
  dogId: 'dog-1',
  sensor: 'phone',
  fileName: null,
  contentHash: null,
  setUp: null,
  mount: 'auto',
  state: 'recording' as const,
  startedAtUs: null,
}

const STREAM: StreamRecord = {
  id: 'stream-1',
  sessionId: 'session-1',
  kind: 'live',
  columns: ['ax', 'ay', 'az'],
  rateHz: 100,
  startedAtUs: 1_000_000,
  resolutionMs2: 0.005,
  source: null,
}

/** What every store must do. `open` gives an empty store; the suite closes nothing. */
export function storeContract(open: () => Promise<Store>): void {
  let store: Store
  beforeEach(async () => {
    store = await open()
    await store.records.addDog({ id: 'dog-1', name: 'Juniper' })
    await store.records.addSession(SESSION)
    await store.series.addStream(STREAM)
  })

  it('tells with a session the step its sensor stated, and none where it stated none', async () => {
    await store.records.addSession({ ...SESSION, id: 'session-2' })
    await store.series.addStream({ ...STREAM, id: 'stream-2', sessionId: 'session-2', resolutionMs2: null })
    await store.records.addSession({ ...SESSION, id: 'session-3' })
    expect(await store.records.session('session-1')).toHaveProperty('resolutionMs2', STREAM.resolutionMs2)
    const { sessions } = await store.records.sessions({ dogId: 'dog-1', limit: 10 })
    const steps = Object.fromEntries(sessions.map((session) => [session.id, session.resolutionMs2]))
    expect(steps).toEqual({ 'session-1': 0.005, 'session-2': undefined, 'session-3': undefined })
  })

  describe('time series', () => {
    const append = (firstIndex: number, count: number) =>
      store.series.appendSamples(STREAM.id, firstIndex, ramp(firstIndex, count))

    it('gives back what was appended, in order and in type', async () => {
      await append(0, 10)
      await append(10, 7)
      const blocks = await collected(store, 0, 17)
      expect(blocks.every((block) => block.values[0] instanceof Float32Array)).toBe(true)
      expect(column(blocks, 2)).toEqual(Array.from({ length: 17 }, (_, i) => Math.fround(i / 3 + 2)))
    })

    it('keeps float64 values bit for bit, the odd ones included', async () => {
      const odd = [Math.PI, -0, 5e-324, 1.7976931348623157e308, 0.1 + 0.2, 1e-300]
      const values = [0, 1, 2].map((shift) => Float64Array.from(odd, (_, i) => odd[(i + shift) % 6]))
      await store.series.appendSamples(STREAM.id, 0, { dtype: 'float64', values })
      const [block] = await collected(store, 0, 6)
      for (const c of [0, 1, 2]) {
        expect(Buffer.from(block.values[c].slice().buffer)).toEqual(Buffer.from(values[c].buffer))
      }
    })

    it('ignores what it has: the same append twice and an overlapping one change nothing twice', async () => {
      expect(await append(0, 10)).toBe(10)
      expect(await append(0, 10)).toBe(10)
      expect(await append(5, 10)).toBe(15)
      expect(column(await collected(store, 0, 100), 0)).toHaveLength(15)
    })

    it('refuses a gap, names the missing index and stores nothing of it', async () => {
      await append(0, 10)
      await expect(append(11, 5)).rejects.toThrow(StreamGapError)
      await expect(append(11, 5)).rejects.toMatchObject({ missingIndex: 10 })
      expect((await store.series.state(STREAM.id)).nextIndex).toBe(10)
    })

    it('stores other streams although one append in the same batch is refused', async () => {
      const results = await Promise.allSettled([append(5, 5), append(0, 10), append(10, 10)])
      expect(results.map(({ status }) => status)).toEqual(['rejected', 'fulfilled', 'fulfilled'])
      expect(column(await collected(store, 0, 20), 0)).toHaveLength(20)
    })

    it('keeps lost ranges apart from samples and counts both in the next index', async () => {
      await append(0, 10)
      expect(await store.series.appendLost(STREAM.id, 10, 5)).toBe(15)
      expect(await append(15, 5)).toBe(20)
      expect(await store.series.lostRanges(STREAM.id)).toEqual([{ firstIndex: 10, count: 5 }])
      expect(column(await collected(store, 0, 20), 0)).toHaveLength(15)
    })

    it('cuts blocks to the half-open range that was asked for', async () => {
      await append(0, 10)
      await append(10, 10)
      const blocks = await collected(store, 7, 12)
      expect(blocks.map(({ firstIndex, count }) => [firstIndex, count])).toEqual([
        [7, 3],
        [10, 2],
      ])
    })

    it('holds long appends whole', async () => {
      await append(0, 20_001)
      expect(column(await collected(store, 19_990, 20_001), 0)).toEqual(
        Array.from({ length: 11 }, (_, i) => Math.fround((19_990 + i) / 3)),
      )
    })

    it('reads the same before, across and after compaction', async () => {
      for (let i = 0; i < 3000; i += 10) await append(i, 10)
      await store.series.appendLost(STREAM.id, 3000, 20)
      for (let i = 3020; i < 4000; i += 7) await append(i, 7)
      const before = await collected(store, 0, 4000)
      await store.series.compact(STREAM.id)
      expect((await store.series.state(STREAM.id)).nextIndex).toBe(4000)
      expect(await store.series.lostRanges(STREAM.id)).toEqual([{ firstIndex: 3000, count: 20 }])
      for (let i = 4000; i < 4100; i += 10) await append(i, 10)
      const after = await collected(store, 0, 4000)
      expect(indices(after)).toEqual(indices(before))
      for (const c of [0, 1, 2]) expect(column(after, c)).toEqual(column(before, c))
      // Compacted blocks, loose ones, and a part of each.
      const across = await collected(store, 2995, 4055)
      expect(indices(across)).toEqual([
        ...Array.from({ length: 5 }, (_, i) => 2995 + i),
        ...Array.from({ length: 1035 }, (_, i) => 3020 + i),
      ])
      expect(column(across, 1)).toEqual(indices(across).map((i) => Math.fround(i / 3 + 1)))
    })

    it('ignores samples it has when they lie in compacted blocks', async () => {
      for (let i = 0; i < 2000; i += 10) await append(i, 10)
      await store.series.compact(STREAM.id)
      expect(await append(0, 10)).toBe(2000)
      expect(await append(500, 1500)).toBe(2000)
      expect(await append(1990, 20)).toBe(2010)
      expect(indices(await collected(store, 0, 3000))).toEqual(Array.from({ length: 2010 }, (_, i) => i))
    })

    it('compacts twice, and while samples go on coming, without a sample lost or doubled', async () => {
      const appends: Promise<number>[] = []
      const compactions: Promise<void>[] = []
      for (let i = 0; i < 5000; i += 10) {
        appends.push(append(i, 10))
        if (i % 500 !== 0) continue
        compactions.push(store.series.compact(STREAM.id))
        await appends.at(-1)
      }
      await Promise.all([...appends, ...compactions])
      await store.series.compact(STREAM.id)
      await store.series.compact(STREAM.id)
      const blocks = await collected(store, 0, 5000)
      expect(indices(blocks)).toEqual(Array.from({ length: 5000 }, (_, i) => i))
      expect(column(blocks, 0)).toEqual(indices(blocks).map((i) => Math.fround(i / 3)))
    })

    it('reads on where it was when a stream is compacted in the middle of reading', async () => {
      for (let i = 0; i < 3000; i += 10) await append(i, 10)
      const seen: number[] = []
      for await (const { firstIndex, count } of store.series.readSamples(STREAM.id, 0, 3000)) {
        if (seen.length === 500) await store.series.compact(STREAM.id)
        for (let i = 0; i < count; i++) seen.push(firstIndex + i)
      }
      expect(seen).toEqual(Array.from({ length: 3000 }, (_, i) => i))
    })

    it('keeps the type of every sample through compaction, bit for bit', async () => {
      const values = [0, 1, 2].map((c) => Float64Array.from({ length: 40 }, (_, i) => Math.sin(i + c) / 3))
      for (let i = 0; i < 200; i += 10) await append(i, 10)
      for (let i = 0; i < 40; i += 10) {
        const columns = values.map((column) => column.subarray(i, i + 10))
        await store.series.appendSamples(STREAM.id, 200 + i, { dtype: 'float64', values: columns })
      }
      await store.series.compact(STREAM.id)
      const doubles = await collected(store, 200, 240)
      expect(doubles.every(({ dtype }) => dtype === 'float64')).toBe(true)
      for (const c of [0, 1, 2]) expect(column(doubles, c)).toEqual([...values[c]])
      expect((await collected(store, 0, 200)).every(({ dtype }) => dtype === 'float32')).toBe(true)
    })

    it('keeps when each packet arrived, through compaction', async () => {
      const expected: { index: number; arrivedAtUs: number }[] = []
      for (let i = 0; i < 1500; i += 10) {
        const told = i % 30 === 0 ? undefined : 1_772_386_200_000_000 + i * 10_000.25
        await store.series.appendSamples(STREAM.id, i, ramp(i, 10), told)
        if (told !== undefined) expected.push({ index: i + 9, arrivedAtUs: told })
      }
      expect(await store.series.arrivals(STREAM.id)).toEqual(expected)
      await store.series.compact(STREAM.id)
      expect(await store.series.arrivals(STREAM.id)).toEqual(expected)
    })

    it('holds what a plain list holds after any appends, losses, re-sends and compactions', async () => {
      let runs = 0
      const property = fc.asyncProperty(fc.array(STEP, { minLength: 4, maxLength: 24 }), async (steps) => {
        const id = `random-${++runs}`
        await addStream(store, id)
        const model = new Model()
        for (const [call, step] of steps.entries()) await apply(store, id, model, step, call)
        expect((await store.series.state(id)).nextIndex).toBe(model.nextIndex)
        expect(await store.series.lostRanges(id)).toEqual(model.lost)
        expect(await store.series.arrivals(id)).toEqual(model.arrivals)
        const half = Math.floor(model.nextIndex / 2)
        for (const [from, to] of [
          [0, Infinity],
          [half, half + 7],
          [half, Infinity],
        ]) {
          const toIndex = Math.min(to, Number.MAX_SAFE_INTEGER)
          const read = await samplesOf(store, id, from, toIndex)
          expect(read).toEqual(model.samples.filter(([index]) => index >= from && index < toIndex))
        }
      })
      await fc.assert(property, { numRuns: 15, seed: 4 })
    })

    it('takes appends of many streams at once, each in its own order', async () => {
      const ids = Array.from({ length: 12 }, (_, i) => `many-${i}`)
      for (const id of ids) await addStream(store, id)
      const appends: Promise<number>[] = []
      for (let i = 0; i < 200; i += 10) {
        for (const id of ids) appends.push(store.series.appendSamples(id, i, ramp(i, 10)))
      }
      await Promise.all(appends)
      for (const id of ids) {
        const read = await samplesOf(store, id, 0, 1000)
        expect(read).toEqual(Array.from({ length: 200 }, (_, i) => [i, Math.fround(i / 3)]))
      }
    })

    it('gives 30,000 doubles back bit for bit, whole and from any place', async () => {
      const count = 30_000
      const values = [0, 1, 2].map((c) =>
        Float64Array.from({ length: count }, (_, i) => Math.sin(i * 0.37 + c) * 12),
      )
      expect(await store.series.appendSamples(STREAM.id, 0, { dtype: 'float64', values })).toBe(count)
      for (const [from, to] of [
        [0, count],
        [12_345, 12_346],
        [4095, 8193],
        [29_999, 40_000],
      ]) {
        const blocks = await collected(store, from, to)
        for (const c of [0, 1, 2]) {
          const read = Buffer.concat(blocks.map(({ values: v }) => bytesOf(v[c])))
          expect(read.equals(bytesOf(values[c].subarray(from, to))), `column ${c} from ${from}`).toBe(true)
        }
      }
    })

    it('has nothing to compact in a stream it does not know', async () => {
      await expect(store.series.compact('other')).resolves.toBeUndefined()
    })

    it('refuses samples of a stream it does not know', async () => {
      await expect(store.series.appendSamples('other', 0, ramp(0, 3))).rejects.toThrow(StreamMissingError)
    })

    it('leaves a stream that is opened again as it is', async () => {
      await append(0, 10)
      await store.series.addStream({ ...STREAM, rateHz: 50 })
      expect(await store.series.streamOfSession(SESSION.id)).toEqual(STREAM)
      expect(await store.series.state(STREAM.id)).toEqual({ nextIndex: 10, complete: false })
    })
  })

  describe('records', () => {
    it('refuses the same content twice for a dog and names the session that has it', async () => {
      const upload = { ...SESSION, contentHash: 'abc' }
      await store.records.addSession({ ...upload, id: 'session-2' })
      const again = store.records.addSession({ ...upload, id: 'session-3' })
      await expect(again).rejects.toThrow(DuplicateContentError)
      await expect(again).rejects.toMatchObject({ sessionId: 'session-2' })
    })

    it('takes a mark once by its id and gives marks in order of time', async () => {
      const late = { id: 'm1', atS: 9, kind: 'note' as const, note: 'sat down' }
      const early = { id: 'm2', atS: 2, kind: 'support-off' as const, note: null }
      expect(await store.records.addMark(SESSION.id, late)).toBe(true)
      expect(await store.records.addMark(SESSION.id, early)).toBe(true)
      expect(await store.records.addMark(SESSION.id, { ...late, atS: 1 })).toBe(false)
      expect(await store.records.marks(SESSION.id)).toEqual([early, late])
      expect(await store.records.deleteMark(SESSION.id, 'm1')).toBe(true)
      expect(await store.records.deleteMark(SESSION.id, 'm1')).toBe(false)
    })

    it('lists sessions newest first and pages without a gap or a repeat', async () => {
      for (let i = 2; i <= 9; i++) {
        // Two sessions share each start: the order must hold among equals too.
        const startedAtUs = 1_000_000 * Math.floor(i / 2)
        await store.records.addSession({ ...SESSION, id: `session-${i}`, startedAtUs })
      }
      const all = await store.records.sessions({ limit: 100 })
      const paged: string[] = []
      let cursor: string | undefined
      do {
        const page = await store.records.sessions({ dogId: 'dog-1', limit: 2, cursor })
        paged.push(...page.sessions.map(({ id }) => id))
        cursor = page.next ?? undefined
      } while (cursor !== undefined)
      expect(paged).toEqual(all.sessions.map(({ id }) => id))
      expect(paged).toHaveLength(9)
      expect(paged.slice(0, 3)).toEqual(['session-1', 'session-9', 'session-8'])
    })

    it('deletes a dog with everything recorded of it', async () => {
      await store.series.appendSamples(STREAM.id, 0, ramp(0, 10))
      await store.records.addMark(SESSION.id, { id: 'm1', atS: 1, kind: 'note', note: null })
      expect(await store.records.deleteDog('dog-1')).toBe(true)
      expect(await store.records.deleteDog('dog-1')).toBe(false)
      expect(await store.records.session(SESSION.id)).toBeNull()
      expect(await store.series.stream(STREAM.id)).toBeNull()
      expect(await store.records.marks(SESSION.id)).toEqual([])
    })
  })

  async function collected(from: Store, fromIndex: number, toIndex: number): Promise<SampleBlock[]> {
    const blocks: SampleBlock[] = []
    for await (const block of from.series.readSamples(STREAM.id, fromIndex, toIndex)) blocks.push(block)
    return blocks
  }
}

type Step =
  | {
      readonly kind: 'append' | 'lost'
      readonly shift: number
      readonly count: number
      readonly wide: boolean
    }
  | { readonly kind: 'compact' }

/** Most follow on what is there; others come again, overlap or leave a gap. */
const STEP: fc.Arbitrary<Step> = fc.oneof(
  {
    weight: 8,
    arbitrary: fc.record({
      kind: fc.constantFrom('append' as const, 'append' as const, 'append' as const, 'lost' as const),
      shift: fc.oneof(fc.constant(0), fc.integer({ min: -60, max: 3 })),
      count: fc.integer({ min: 1, max: 40 }),
      wide: fc.boolean(),
    }),
  },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('compact' as const) }) },
)

/** What a stream must hold; written from the words of the interface, nothing of a store in it. */
class Model {
  nextIndex = 0
  readonly samples: [number, number][] = []
  readonly lost: { firstIndex: number; count: number }[] = []
  readonly arrivals: { index: number; arrivedAtUs: number }[] = []
}

async function apply(store: Store, id: string, model: Model, step: Step, call: number): Promise<void> {
  if (step.kind === 'compact') return store.series.compact(id)
  const { kind, shift, count, wide } = step
  const firstIndex = Math.max(0, model.nextIndex + shift)
  // Another value in every call: of what is sent twice, the first must stay.
  const value = (index: number) => call * 1000 + index + 0.1
  const values = [0, 1, 2].map((axis) => {
    const column = Array.from({ length: count }, (_, i) => value(firstIndex + i) + axis)
    return wide ? Float64Array.from(column) : Float32Array.from(column)
  })
  const arrivedAtUs = 1_772_386_200_000_000 + call
  const doing =
    kind === 'lost'
      ? store.series.appendLost(id, firstIndex, count)
      : store.series.appendSamples(
          id,
          firstIndex,
          { dtype: wide ? 'float64' : 'float32', values },
          arrivedAtUs,
        )
  if (firstIndex > model.nextIndex) {
    await expect(doing).rejects.toMatchObject({ name: 'StreamGapError', missingIndex: model.nextIndex })
    return
  }
  const [from, end] = [model.nextIndex, Math.max(model.nextIndex, firstIndex + count)]
  expect(await doing).toBe(end)
  model.nextIndex = end
  if (from === end) return
  if (kind === 'lost') {
    model.lost.push({ firstIndex: from, count: end - from })
    return
  }
  for (let i = from; i < end; i++) model.samples.push([i, wide ? value(i) : Math.fround(value(i))])
  model.arrivals.push({ index: end - 1, arrivedAtUs })
}

async function addStream(store: Store, id: string): Promise<void> {
  await store.records.addSession({ ...SESSION, id: `session-of-${id}` })
  await store.series.addStream({ ...STREAM, id, sessionId: `session-of-${id}` })
}

/** [index, first value] of all samples in a range. */
async function samplesOf(store: Store, id: string, from: number, to: number): Promise<[number, number][]> {
  const samples: [number, number][] = []
  for await (const block of store.series.readSamples(id, from, to)) {
    for (let i = 0; i < block.count; i++) samples.push([block.firstIndex + i, block.values[0][i]])
  }
  return samples
}

function bytesOf(column: Float32Array | Float64Array): Buffer {
  return Buffer.from(column.buffer, column.byteOffset, column.byteLength)
}

function ramp(firstIndex: number, count: number): SampleColumns {
  const values = [0, 1, 2].map((axis) =>
    Float32Array.from({ length: count }, (_, i) => (firstIndex + i) / 3 + axis),
  )
  return { dtype: 'float32', values }
}

function indices(blocks: readonly SampleBlock[]): number[] {
  return blocks.flatMap(({ firstIndex, count }) => Array.from({ length: count }, (_, i) => firstIndex + i))
}

function column(blocks: readonly SampleBlock[], c: number): number[] {
  return blocks.flatMap((block) => [...block.values[c]])
}
