import fc from 'fast-check'
import { expect, it } from 'vitest'
import { exportedZip, importZip, jsonOf, unzipped } from '../helpers/archive.ts'
import { call, listeningApp, testApp } from '../helpers/build-app.ts'
import { storedSamples } from '../helpers/stored-samples.ts'
import { liveSession, STRANGE } from './made-dog.ts'

/** Any float32 that is finite: signed zeros, subnormals, the largest. */
const anyFloat = fc.float({ noNaN: true, noDefaultInfinity: true })

const anyDog = fc.record({
  name: fc
    .oneof(fc.constantFrom(...STRANGE), fc.string({ minLength: 1, maxLength: 60, unit: 'grapheme' }))
    .filter((name) => name.trim() !== '' && name.length <= 80),
  notes: fc.string({ maxLength: 200, unit: 'grapheme' }).filter((notes) => notes.length <= 2000),
  channels: fc.constantFrom(3 as const, 6 as const),
  samples: fc.integer({ min: 30, max: 9000 }),
  gaps: fc.array(fc.tuple(fc.integer({ min: 0, max: 8000 }), fc.integer({ min: 1, max: 300 })), {
    maxLength: 4,
  }),
  floats: fc.array(anyFloat, { minLength: 3, maxLength: 200 }),
})

it('random dogs with live streams, losses and any floats come back bit by bit', async () => {
  // Both servers stay for all dogs: starting their threads would take most of the time.
  const from = await listeningApp()
  const to = await testApp()
  await fc.assert(
    fc.asyncProperty(anyDog, async ({ name, notes, channels, samples, gaps, floats }) => {
      const made = await call(from.app, { method: 'POST', url: '/api/dogs', payload: { name, notes } })
      const dogId = made.json<{ id: string }>().id
      const lost: [number, number][] = []
      for (const [at, count] of [...gaps].sort(([a], [b]) => a - b)) {
        const after = lost.length > 0 ? lost[lost.length - 1][0] + lost[lost.length - 1][1] : 0
        if (at > after && at + count < samples) lost.push([at, count])
      }
      const value = (i: number, c: number) => floats[(i * channels + c) % floats.length]
      await liveSession(from, dogId, { channels, samples, lost, value })
      const zip = await exportedZip(from.app, dogId)
      expect((await importZip(to, zip)).json()).toMatchObject({ dog: { id: dogId, name, notes } })
      const [before, after] = [await unzipped(zip), await unzipped(await exportedZip(to, dogId))]
      expect([...after.keys()]).toEqual([...before.keys()])
      for (const [path, content] of before) {
        if (path !== 'manifest.json' && path !== 'audit.json')
          expect(after.get(path)!.equals(content), path).toBe(true)
      }
      const [session] = jsonOf(before, 'manifest.json').sessions
      const stream = (await from.app.store.series.streamOfSession(session))!.id
      // Object.is on every value: toEqual tells -0 from 0.
      expect(await storedSamples(to.store, stream)).toEqual(await storedSamples(from.app.store, stream))
    }),
    { numRuns: 8, seed: 20261127 },
  )
}, 900_000)
