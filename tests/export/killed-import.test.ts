import { readdir } from 'node:fs/promises'
import { setTimeout as sleep } from 'node:timers/promises'
import Sqlite from 'better-sqlite3'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { exportedZip, jsonOf, unzipped, withManifest, zipped } from '../helpers/archive.ts'
import { allRows } from '../helpers/all-rows.ts'
import { addDog, listeningApp, temporaryDir } from '../helpers/build-app.ts'
import { startServer } from '../helpers/running-server.ts'
import { liveSession } from './made-dog.ts'

/** An archive of many sessions, so that taking it over lasts: one session under many ids. */
async function longArchive(copies: number): Promise<Buffer> {
  const server = await listeningApp()
  const dogId = await addDog(server.app)
  const session = await liveSession(server, dogId, { channels: 3, samples: 1200, lost: [] })
  const files = await unzipped(await exportedZip(server.app, dogId))
  const all = new Map([...files].filter(([path]) => !path.startsWith('sessions/')))
  const ids = Array.from({ length: copies }, (_, i) => `${session}-${i}`)
  for (const id of ids) {
    for (const [path, content] of files) {
      if (!path.startsWith(`sessions/${session}/`)) continue
      const copy = path.replace(session, id)
      if (!/(session|stream)\.json$/.test(path)) all.set(copy, content)
      else all.set(copy, Buffer.from(JSON.stringify({ ...jsonOf(files, path), id })))
    }
  }
  return zipped(withManifest(all, (manifest) => (manifest.sessions = ids)))
}

it(
  'a server killed at any moment of an import has the whole dog after its next start, or nothing of it',
  { timeout: 900_000 },
  async () => {
    const zip = await longArchive(60)
    const outcomes = { whole: 0, nothing: 0, inTheMiddle: 0 }
    const dataDir = await temporaryDir()
    for (let round = 0; round < 6; round++) {
      const server = await startServer({ dataFolder: dataDir })
      const form = new FormData()
      form.set('file', new Blob([zip as BlobPart]), 'archive.zip')
      const answer = fetch(`${server.url}/api/imports`, { method: 'POST', body: form }).catch(() => null)
      // Late rounds wait until rows are being copied, so that some kills come between two of them.
      if (round % 2 === 1) await untilCopied(dataDir, answer)
      else await sleep(200 * round)
      await server.kill()
      await answer
      const before = blocksIn(dataDir)
      const again = await startServer({ dataFolder: dataDir })
      const dogs = (await (await fetch(`${again.url}/api/dogs`)).json()) as { id: string; sessions: number }[]
      expect(await readdir(dataDir)).not.toContain('imports')
      if (dogs.length === 0) {
        outcomes.nothing++
        if (before > 0) outcomes.inTheMiddle++
        expect(Object.values(await allRows(dataDir)).flat()).toEqual([])
        expect(blocksIn(dataDir)).toBe(0)
      } else {
        outcomes.whole++
        expect(dogs).toMatchObject([{ sessions: 60 }])
        expect(blocksIn(dataDir)).toBe(60)
        await fetch(`${again.url}/api/dogs/${dogs[0].id}`, { method: 'DELETE' })
      }
      await again.kill()
    }
    expect(outcomes.nothing).toBeGreaterThan(0)
    expect(outcomes.inTheMiddle + outcomes.whole).toBeGreaterThan(0)
  },
)

async function untilCopied(dataDir: string, answer: Promise<unknown>): Promise<void> {
  let answered = false
  void answer.then(() => (answered = true))
  while (!answered && blocksIn(dataDir) === 0) await sleep(10)
}

function blocksIn(dataDir: string): number {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'), { readonly: true })
  try {
    return raw.prepare('select count(*) from sample_blocks').pluck().get() as number
  } finally {
    raw.close()
  }
}
