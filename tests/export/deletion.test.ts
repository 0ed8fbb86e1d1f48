import { readdir, readFile } from 'node:fs/promises'
import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import { expect, it, onTestFinished } from 'vitest'
import { temporaryDir } from '../helpers/build-app.ts'
import { columnsWithoutContent } from '../helpers/all-rows.ts'
import { serverProcess } from '../helpers/server-process.ts'
import { ask, fullDog, PLANTED } from './full-dog.ts'

/** Pieces of what is stored of the samples, 24 bytes each; of blocks long enough that a piece is nobody else's. */
function samplePieces(dataDir: string, where = 'true'): Buffer[] {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'), { readonly: true })
  onTestFinished(() => void raw.close())
  const blocks = raw.prepare(`select columns from sample_blocks where ${where}`).pluck().all() as Buffer[]
  raw.close()
  return blocks
    .filter((block) => block.length > 400)
    .flatMap((block) =>
      Array.from({ length: 40 }, (_, i) => {
        const at = Math.floor((i / 40) * (block.length - 24))
        return Buffer.from(block.subarray(at, at + 24))
      }),
    )
}

/** Which of the pieces lie anywhere in the files of the folder, whoever has them open. */
async function found(dataDir: string, pieces: readonly Buffer[]): Promise<string[]> {
  const files = (await readdir(dataDir, { recursive: true, withFileTypes: true })).filter((file) =>
    file.isFile(),
  )
  const hits: string[] = []
  for (const file of files) {
    const bytes = await readFile(join(file.parentPath, file.name))
    for (const piece of pieces)
      if (bytes.includes(piece)) hits.push(`${file.name}: ${piece.toString('latin1')}`)
  }
  return hits
}

/** Ids of rows: nothing may tell that they were here. */
function idsIn(dataDir: string): Buffer[] {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'), { readonly: true })
  try {
    const ids = raw
      .prepare(
        'select id from dogs union select id from sessions union select id from streams union select id from diary_entries',
      )
      .pluck()
      .all() as string[]
    return ids.map((id) => Buffer.from(id))
  } finally {
    raw.close()
  }
}

const socketOf = (url: string) => url.replace(/^http/, 'ws')

it(
  'after a dog is deleted no byte of it is in the data folder, even when the server is killed right then',
  { timeout: 180_000 },
  async () => {
    const dataDir = await temporaryDir()
    const { url, child, exited } = await serverProcess(dataDir)
    const { dogId, sessions } = await fullDog({ url, wsUrl: socketOf(url) })
    // Texts and samples are in every table and column there is.
    expect(columnsWithoutContent(dataDir)).toEqual([])
    const ids = idsIn(dataDir)
    expect(ids).toHaveLength(1 + Object.keys(sessions).length + 5 + 5)
    const other = await ask<{ id: string }>(`${url}/api/dogs`, 'POST', { name: 'Stays' })
    // What an archive on its way out and back in leaves on the disk counts too.
    const zip = await (await fetch(`${url}/api/dogs/${dogId}/export.zip`)).blob()
    const form = new FormData()
    form.set('file', zip, 'archive.zip')
    expect((await fetch(`${url}/api/imports`, { method: 'POST', body: form })).status).toBe(409)
    await fetch(`${url}/api/dogs/${dogId}/fhir.json`)

    const pieces = [...samplePieces(dataDir), Buffer.from(PLANTED), ...ids]
    // The search finds what is there.
    expect((await found(dataDir, pieces)).length).toBeGreaterThan(50)

    expect((await fetch(`${url}/api/dogs/${dogId}`, { method: 'DELETE' })).status).toBe(204)
    child.kill('SIGKILL')
    await exited
    expect(await found(dataDir, pieces)).toEqual([])
    const again = await serverProcess(dataDir)
    expect(await ask(`${again.url}/api/dogs`)).toMatchObject([{ id: other.id }])
    expect(await found(dataDir, pieces)).toEqual([])
  },
)

it(
  'after a session is deleted its texts and samples are gone, those of the other sessions stay',
  { timeout: 180_000 },
  async () => {
    const dataDir = await temporaryDir()
    const { url } = await serverProcess(dataDir)
    const { sessions } = await fullDog({ url, wsUrl: socketOf(url) })
    const wordsOf = (name: string) => Buffer.from(`${PLANTED}-${name}-`)
    for (const [name, id] of Object.entries(sessions)) {
      const stream = `stream_id in (select id from streams where session_id = '${id}')`
      const pieces = [wordsOf(name), ...samplePieces(dataDir, stream)]
      expect((await found(dataDir, pieces)).length, name).toBeGreaterThan(0)
      await ask(`${url}/api/sessions/${id}`, 'DELETE')
      expect(await found(dataDir, pieces), name).toEqual([])
    }
    // The dog's own words stay; the trail of changes may name a session, but nothing it held.
    for (const name of ['dog', 'plan', 'diary', 'dose']) {
      expect((await found(dataDir, [wordsOf(name)])).length, name).toBeGreaterThan(0)
    }
  },
)
