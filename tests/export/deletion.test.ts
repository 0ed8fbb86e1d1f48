import { readdir, readFile } from 'node:fs/promises'
import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import { expect, it, onTestFinished } from 'vitest'
import { temporaryDir } from '../helpers/build-app.ts'
import { madePlan } from '../helpers/made-plan.ts'
import { serverProcess } from '../helpers/server-process.ts'
import { sampleTrace } from './made-dog.ts'

/** In every kind of text that can be stored. */
const PLANTED = 'Xylophon-7391'

async function post(
  url: string,
  body: object | FormData,
  method = 'POST',
  headers: Record<string, string> = {},
) {
  const json = !(body instanceof FormData)
  const answer = await fetch(url, {
    method,
    headers: { ...(json && { 'content-type': 'application/json' }), ...headers },
    body: json ? JSON.stringify(body) : body,
  })
  if (!answer.ok) throw new Error(`${method} ${url}: ${answer.status} ${await answer.text()}`)
  return answer.status === 204 ? null : answer.json()
}

/** A dog whose every text has the planted word in it; gives its id and the ids of its sessions. */
async function plantedDog(url: string, files: number): Promise<{ dogId: string; sessions: string[] }> {
  const dog = await post(`${url}/api/dogs`, { name: PLANTED, breed: PLANTED, notes: PLANTED })
  const plan = { ...madePlan(), setBy: PLANTED, notes: PLANTED }
  await post(`${url}/api/dogs/${dog.id}/plan`, plan, 'PUT', { 'if-none-match': '*' })
  const trace = await sampleTrace('foam-hand-support.tsv')
  const sessions: string[] = []
  for (let i = 0; i < files; i++) {
    const form = new FormData()
    form.set('exercise', `${PLANTED} ${i}`)
    form.set('surface', PLANTED)
    // Another content each time.
    form.set('file', new Blob([trace + '\n'.repeat(i)]), `${PLANTED}-${i}.tsv`)
    const { id } = await post(`${url}/api/dogs/${dog.id}/traces`, form)
    sessions.push(id)
    await post(`${url}/api/sessions/${id}/check-in`, { answer: 'sore', note: PLANTED }, 'PUT')
    await post(`${url}/api/sessions/${id}/marks`, { atS: 3, kind: 'note', note: PLANTED })
  }
  return { dogId: dog.id, sessions }
}

/** Pieces of what is stored of the samples: 24 bytes each, from the middle of blocks. */
function samplePieces(dataDir: string): Buffer[] {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'), { readonly: true })
  onTestFinished(() => void raw.close())
  const blocks = raw.prepare('select columns from sample_blocks').pluck().all() as Buffer[]
  raw.close()
  return blocks.flatMap((block) =>
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

it(
  'after a dog is deleted no byte of it is in the data folder, even when the server is killed right then',
  { timeout: 180_000 },
  async () => {
    const dataDir = await temporaryDir()
    const { url, child, exited } = await serverProcess(dataDir)
    const { dogId, sessions } = await plantedDog(url, 3)
    const other = await post(`${url}/api/dogs`, { name: 'Stays' })
    // What an archive on its way out and back in leaves on the disk counts too.
    const zip = await (await fetch(`${url}/api/dogs/${dogId}/export.zip`)).blob()
    const form = new FormData()
    form.set('file', zip, 'archive.zip')
    expect((await fetch(`${url}/api/imports`, { method: 'POST', body: form })).status).toBe(409)
    await fetch(`${url}/api/dogs/${dogId}/fhir.json`)

    const pieces = [
      ...samplePieces(dataDir),
      Buffer.from(PLANTED),
      ...sessions.map((id) => Buffer.from(id)),
      Buffer.from(dogId),
    ]
    // The search finds what is there.
    expect((await found(dataDir, pieces)).length).toBeGreaterThan(50)

    expect((await fetch(`${url}/api/dogs/${dogId}`, { method: 'DELETE' })).status).toBe(204)
    child.kill('SIGKILL')
    await exited
    expect(await found(dataDir, pieces)).toEqual([])
    const again = await serverProcess(dataDir)
    expect(await (await fetch(`${again.url}/api/dogs`)).json()).toMatchObject([{ id: other.id }])
    expect(await found(dataDir, pieces)).toEqual([])
  },
)

it(
  'after a session is deleted its texts and samples are gone, those of another stay',
  { timeout: 180_000 },
  async () => {
    const dataDir = await temporaryDir()
    const { url } = await serverProcess(dataDir)
    const { sessions } = await plantedDog(url, 1)
    const pieces = samplePieces(dataDir)
    expect((await found(dataDir, pieces)).length).toBeGreaterThan(4)
    expect((await fetch(`${url}/api/sessions/${sessions[0]}`, { method: 'DELETE' })).status).toBe(204)
    expect(await found(dataDir, pieces)).toEqual([])
    // The dog's own words stay; the trail of changes may name the session, but nothing it held.
    const left = await found(dataDir, [Buffer.from(`${PLANTED} 0`), Buffer.from(`${PLANTED}-0.tsv`)])
    expect(left).toEqual([])
  },
)
