import fc from 'fast-check'
import { expect, it } from 'vitest'
import { exportedZip, unzipped, withManifest, zipped } from '../helpers/archive.ts'
import type { Files } from '../helpers/archive.ts'
import { addDog, listeningApp } from '../helpers/build-app.ts'
import { liveSession } from './made-dog.ts'
import { refusal } from './staged.ts'

/** A ZIP of a few tens of kB: all of its parts are hit. */
async function archive(): Promise<Buffer> {
  const server = await listeningApp()
  const dogId = await addDog(server.app)
  await liveSession(server, dogId, { channels: 3, samples: 600, lost: [[300, 20]] })
  return exportedZip(server.app, dogId)
}

const code = { name: 'ArchiveError', code: expect.stringMatching(/^ARCHIVE_/), message: expect.any(String) }

it('2000 archives with some bytes changed, cut or doubled are refused in words, or are what they were', async () => {
  const zip = await archive()
  const change = fc.record({
    at: fc.nat(zip.length - 1),
    kind: fc.constantFrom('flip', 'set', 'cut', 'double'),
    value: fc.integer({ min: 0, max: 255 }),
    length: fc.integer({ min: 1, max: 40 }),
  })
  let refused = 0
  await fc.assert(
    fc.asyncProperty(fc.array(change, { minLength: 1, maxLength: 4 }), async (changes) => {
      let other = Buffer.from(zip)
      for (const { at, kind, value, length } of changes) {
        const from = at % other.length
        if (kind === 'flip') other[from] ^= 1 << (value % 8)
        else if (kind === 'set') other[from] = value
        else if (kind === 'cut')
          other = Buffer.concat([other.subarray(0, from), other.subarray(from + length)])
        else other = Buffer.concat([other.subarray(0, from + length), other.subarray(from)])
      }
      const error = await refusal(other)
      if (error === null) return
      refused++
      expect(error).toMatchObject(code)
    }),
    { numRuns: 2000, seed: 20261125 },
  )
  // Times and attributes of an entry may change without harm; nearly nothing else may.
  expect(refused).toBeGreaterThan(1500)
}, 600_000)

it('200 archives whose files were changed with a manifest that fits are refused in words, or consistent', async () => {
  const files = await unzipped(await archive())
  const paths = [...files.keys()].filter((path) => !/^(schema|README|manifest)/.test(path))
  const change = fc.record({
    path: fc.constantFrom(...paths),
    kind: fc.constantFrom('drop', 'empty', 'word', 'swap'),
    at: fc.nat(1_000_000),
    word: fc.constantFrom('null', '[]', '{}', '-1', '1e999', '"x"', '\u0000', ',,', '\n', '__proto__'),
    other: fc.constantFrom(...paths),
  })
  await fc.assert(
    fc.asyncProperty(change, async ({ path, kind, at, word, other }) => {
      const changed: Files = new Map(files)
      const content = files.get(path)!
      const place = at % (content.length + 1)
      if (kind === 'drop') changed.delete(path)
      else if (kind === 'empty') changed.set(path, Buffer.alloc(0))
      else if (kind === 'swap') changed.set(path, files.get(other)!)
      else {
        const cut = content.subarray(place + word.length)
        changed.set(path, Buffer.concat([content.subarray(0, place), Buffer.from(word), cut]))
      }
      const error = await refusal(await zipped(withManifest(changed)))
      if (error !== null) expect(error).toMatchObject(code)
    }),
    { numRuns: 200, seed: 20261126 },
  )
}, 600_000)
