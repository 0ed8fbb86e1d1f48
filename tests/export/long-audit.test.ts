import { createHash } from 'node:crypto'
import { expect, it } from 'vitest'
import { exportedZip, importZip, unzipped, withManifest, zipped } from '../helpers/archive.ts'
import { testApp } from '../helpers/build-app.ts'
import { dogWithSession } from '../helpers/versioned-calls.ts'
import { refusal } from './staged.ts'

/** What import reads of one JSON file at most: server/import/archive-reader.ts. */
const MAX_JSON_BYTES = 64 * 1024 ** 2

/** 500 characters that do not pack to nothing, always the same for the same name. */
const words = (name: string) =>
  [0, 1, 2, 3]
    .map((n) => createHash('sha512').update(`${name} ${n}`).digest('hex'))
    .join('')
    .slice(0, 500)

it('an audit trail longer than one JSON file may be leaves in parts and comes back row by row', async () => {
  const from = await testApp()
  const { dogId, sessionId } = await dogWithSession(from)
  const { edits } = from.store.records
  // Each replaces the longest document of marks by another: both are kept.
  for (let round = 0; round < 34; round++) {
    const marks = Array.from({ length: 2000 }, (_, i) => ({
      id: `m${i}`,
      atS: i,
      kind: 'note' as const,
      note: words(`${round} ${i}`),
    }))
    await edits.replace(sessionId, { marks, holds: [] }, () => true, { name: 'Rowan Vale', personId: null })
  }
  const { audit } = (await from.store.archives.dog(dogId))!

  const zip = await exportedZip(from, dogId)
  const files = await unzipped(zip)
  const parts = [...files].filter(([path]) => /^audit(-\d+)?\.json$/.test(path))
  const sizes = parts.map(([, content]) => content.length)
  expect(sizes.reduce((sum, size) => sum + size)).toBeGreaterThan(MAX_JSON_BYTES)
  expect(Math.max(...sizes)).toBeLessThan(MAX_JSON_BYTES / 4)

  const to = await testApp()
  const answer = await importZip(to, zip)
  expect(answer.json()).toMatchObject({ dog: { id: dogId } })
  const back = (await to.store.archives.dog(dogId))!.audit
  expect(back.at(-1)).toMatchObject({ action: 'dog.imported' })
  expect(back.length).toBe(audit.length + 1)
  // Row by row: a difference of all of it could not be printed.
  for (const [i, row] of audit.entries())
    expect(JSON.stringify(back[i]) === JSON.stringify(row), `${i}`).toBe(true)

  const gap = new Map(files)
  gap.delete('audit-3.json')
  expect(await refusal(await zipped(withManifest(gap)))).toMatchObject({
    code: 'ARCHIVE_FILE_MISSING',
    file: 'audit-3.json',
  })
}, 600_000)
