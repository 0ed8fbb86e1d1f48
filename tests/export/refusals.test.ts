import { readdir } from 'node:fs/promises'
import { buffer } from 'node:stream/consumers'
import { deflateRawSync } from 'node:zlib'
import { describe, expect, it, vi } from 'vitest'
import { ZipFile } from 'yazl'
import type { App } from '#server/app'
import { allRows } from '../helpers/all-rows.ts'
import { exportedZip, importZip, jsonOf, unzipped, withManifest, zipped } from '../helpers/archive.ts'
import type { Files } from '../helpers/archive.ts'
import { addDog, call, listeningApp, temporaryDir, testApp } from '../helpers/build-app.ts'
import { liveSession } from './made-dog.ts'
import { refusal } from './staged.ts'

// Threads and apps of their own, on a machine that may be slow.
vi.setConfig({ testTimeout: 180_000 })

/** A dog with one short live session, as files. */
async function smallArchive(): Promise<{ files: Files; dogId: string; session: string }> {
  const server = await listeningApp()
  const dogId = await addDog(server.app)
  const session = await liveSession(server, dogId, { channels: 3, samples: 1200, lost: [[300, 20]] })
  return { files: await unzipped(await exportedZip(server.app, dogId)), dogId, session }
}

const small = smallArchiveOnce()
function smallArchiveOnce() {
  let made: ReturnType<typeof smallArchive> | undefined
  return () => (made ??= smallArchive())
}

/** Refused while it is read, with the code. */
async function expectRefused(zip: Uint8Array, code: string, more: object = {}): Promise<void> {
  expect(await refusal(zip)).toMatchObject({ name: 'ArchiveError', code, ...more })
}

/** The same through the API: a problem that says so, and nothing of it is there afterwards. */
async function expectNothingOf(zip: Uint8Array, code: string): Promise<void> {
  const dataDir = await temporaryDir()
  const app: App = await testApp({ dataDir })
  const answer = await importZip(app, zip)
  expect(answer.json()).toMatchObject({ code, status: 422, remedy: expect.any(String) })
  expect(answer.headers['content-type']).toMatch('application/problem+json')
  expect(Object.values(await allRows(dataDir)).flat()).toEqual([])
  const left = await readdir(dataDir, { recursive: true })
  expect(
    left.filter((name) => !/^(imports|swaybook\.(sqlite|lock)(-(wal|shm|journal))?)$/.test(name)),
  ).toEqual([])
}

/** The archive with one file changed and its manifest made to fit. */
async function changed(path: (session: string) => string, change: (text: string) => string): Promise<Buffer> {
  const { files, session } = await small()
  const text = files.get(path(session))!.toString()
  const other = change(text)
  expect(other).not.toBe(text)
  return zipped(withManifest(new Map(files).set(path(session), Buffer.from(other))))
}

describe('an archive is refused, and nothing of it comes in, when', () => {
  it('it is no ZIP', () => expectRefused(Buffer.from('not a zip'), 'ARCHIVE_NOT_ZIP'))
  it('told through the API: one that is no ZIP, one whose last sample is missing', async () => {
    await expectNothingOf(Buffer.from('not a zip'), 'ARCHIVE_NOT_ZIP')
    const short = await changed(
      (id) => `sessions/${id}/samples.csv`,
      (text) => text.replace(/\n\d+,[^\n]*\n$/, '\n'),
    )
    await expectNothingOf(short, 'ARCHIVE_SAMPLES_INVALID')
  })
  it('it is cut off', async () => {
    const zip = await zipped((await small()).files)
    await expectRefused(zip.subarray(0, zip.length - 200), 'ARCHIVE_NOT_ZIP')
  })
  it('it is some other ZIP', async () => {
    await expectRefused(await zipped([['a.txt', 'x']]), 'ARCHIVE_NOT_OURS')
    await expectRefused(await zipped([['manifest.json', '{"format":"x"}']]), 'ARCHIVE_NOT_OURS')
    await expectRefused(await zipped([['manifest.json', 'null']]), 'ARCHIVE_NOT_OURS')
  })
  it('its format is newer', async () => {
    const files = withManifest((await small()).files, (manifest) => (manifest.formatVersion = 2))
    await expectRefused(await zipped(files), 'ARCHIVE_NEWER', { remedy: expect.stringContaining('Update') })
  })
  it('a file was changed: it is named', async () => {
    const { files, session } = await small()
    const path = `sessions/${session}/samples.csv`
    const bytes = Buffer.from(files.get(path)!)
    bytes[bytes.length - 3] ^= 1
    await expectRefused(await zipped(new Map(files).set(path, bytes)), 'ARCHIVE_FILE_CHANGED', { file: path })
  })
  it('a file is missing, or one is there that nobody listed', async () => {
    const { files } = await small()
    const without = new Map(files)
    without.delete('plans.json')
    await expectRefused(await zipped(without), 'ARCHIVE_FILE_MISSING', { file: 'plans.json' })
    await expectRefused(await zipped(withManifest(without)), 'ARCHIVE_FILE_MISSING', { file: 'plans.json' })
    const more = new Map(files).set('more.txt', Buffer.from('x'))
    await expectRefused(await zipped(more), 'ARCHIVE_FILE_UNKNOWN', { file: 'more.txt' })
    await expectRefused(await zipped(withManifest(more)), 'ARCHIVE_FILE_UNKNOWN', { file: 'more.txt' })
  })
  it('a name leads out of it, is absolute, or is in it twice', async () => {
    const { files } = await small()
    for (const name of ['../x.json', '/etc/x.json', 'a\\..\\b.json', 'C:/x.json', 'a//b', './a', 'é.json']) {
      // Renamed in the bytes: yazl itself refuses such names.
      const holder = 'x'.repeat(Buffer.byteLength(name))
      const zip = await zipped([...files, [holder, 'x']])
      await expectRefused(renamed(zip, holder, Buffer.from(name)), 'ARCHIVE_NAME_UNSAFE')
    }
    const zip = await zipped([...files, ['dog2json', 'x']])
    await expectRefused(renamed(zip, 'dog2json', Buffer.from('dog.json')), 'ARCHIVE_NAME_TWICE')
  })
  it('an entry is a link, or encrypted', async () => {
    const { files } = await small()
    const zip = await zipped(files)
    const link = Buffer.from(zip)
    link.writeUInt32LE((0o120777 << 16) >>> 0, centralRecord(zip, 'dog.json') + 38)
    await expectRefused(link, 'ARCHIVE_LINK', { file: 'dog.json' })
    const encrypted = Buffer.from(zip)
    encrypted.writeUInt16LE(0x0801, centralRecord(zip, 'dog.json') + 8)
    await expectRefused(encrypted, 'ARCHIVE_ENCRYPTED', { file: 'dog.json' })
  })
  it('it would unpack to far more than it is, whatever it says of its sizes', async () => {
    const { files } = await small()
    const zeros = Buffer.alloc(80 * 1024 ** 2)
    await expectRefused(await zipped(new Map(files).set('dog.json', zeros)), 'ARCHIVE_TOO_LARGE')
    // One that says it is small: cut off while it is unpacked.
    const lying = await zipped(new Map(files).set('dog.json', zeros))
    lying.writeUInt32LE(100, centralRecord(lying, 'dog.json') + 24)
    await expectRefused(lying, 'ARCHIVE_DAMAGED', { file: 'dog.json' })
    expect(deflateRawSync(zeros).length).toBeLessThan(100_000)
  })
  it('JSON is broken, or not what its schema says: file and place are named', async () => {
    await expectRefused(
      await changed(
        () => 'dog.json',
        (text) => text.slice(0, -5),
      ),
      'ARCHIVE_JSON_INVALID',
      {
        file: 'dog.json',
      },
    )
    const noName = await changed(
      () => 'dog.json',
      (text) => text.replace(/"name": "[^"]*"/, '"name": 7'),
    )
    await expectRefused(noName, 'ARCHIVE_CONTENT_INVALID', {
      file: 'dog.json',
      message: expect.stringContaining('/name'),
    })
    const more = await changed(
      () => 'dog.json',
      (text) => text.replace('{', '{"secret": 1,'),
    )
    await expectRefused(more, 'ARCHIVE_CONTENT_INVALID')
    const other = await changed(
      (id) => `sessions/${id}/session.json`,
      (text) => text.replace(/"id": "[^"]*"/, '"id": "other"'),
    )
    await expectRefused(other, 'ARCHIVE_CONTENT_INVALID', { message: expect.stringContaining('/id') })
    const report = await changed(
      (id) => `sessions/${id}/report.json`,
      (text) => text.replace('"holds": [', '"holds": [1,'),
    )
    await expectRefused(report, 'ARCHIVE_CONTENT_INVALID')
  })
  it('samples are out of order, twice, missing, not finite, or not numbers: the line is named', async () => {
    const samples = (id: string) => `sessions/${id}/samples.csv`
    const line = (n: number, with_: (row: string) => string) => (text: string) =>
      text
        .split('\n')
        .flatMap((row, i) => (i === n - 1 ? with_(row).split('\n') : [row]))
        .join('\n')
    for (const spoil of [
      line(5, (row) => `${row}\n${row}`),
      line(6, () => '5,NaN,0,0'),
      line(6, (row) => row.replace(/,.*/, ',1e39,0,0')),
      line(6, (row) => `${row},1`),
      line(6, () => 'x'),
      line(305, (row) => row.replace(/^\d+/, '305')),
      (text: string) => text.replace(/\n\d+,[^\n]*\n$/, '\n'),
      (text: string) => text.slice(0, -4),
      (text: string) => text.replace('index,ax', 'index,az'),
      (text: string) => `${text}1200,0,0,0\n`,
    ]) {
      await expectRefused(await changed(samples, spoil), 'ARCHIVE_SAMPLES_INVALID')
    }
    const named = await changed(
      samples,
      line(6, () => '4,a,0,0'),
    )
    await expectRefused(named, 'ARCHIVE_SAMPLES_INVALID', { line: 6 })
    const arrival = await changed(
      (id) => `sessions/${id}/arrivals.csv`,
      line(3, (row) => row.replace(/^\d+/, '310')),
    )
    await expectRefused(arrival, 'ARCHIVE_SAMPLES_INVALID')
  })
  it('it contradicts itself in ids', async () => {
    const { files, session } = await small()
    const path = `sessions/${session}/edits.json`
    const edits = jsonOf(files, path)
    edits.marks = [...edits.marks, ...edits.marks]
    const twice = new Map(files).set(path, Buffer.from(JSON.stringify(edits)))
    await expectRefused(await zipped(withManifest(twice)), 'ARCHIVE_CONTENT_INVALID')
  })
})

it('a dog that is here already is 409, before anything is read, and stays as it is', async () => {
  const server = await listeningApp({ dataDir: await temporaryDir() })
  const dogId = await addDog(server.app)
  const zip = await exportedZip(server.app, dogId)
  const answer = await importZip(server.app, zip)
  expect(answer.statusCode).toBe(409)
  expect(answer.json()).toMatchObject({ code: 'DOG_EXISTS', detail: expect.stringContaining('Delete it') })
  expect((await call(server.app, { method: 'DELETE', url: `/api/dogs/${dogId}` })).statusCode).toBe(204)
  expect((await importZip(server.app, zip)).statusCode).toBe(201)
})

it('a session id that another dog has is 409 and leaves nothing', async () => {
  const { files, session } = await small()
  const server = await listeningApp({ dataDir: await temporaryDir() })
  const other = await addDog(server.app, 'Other')
  const payload = { dogId: other, sensor: 'phone', id: session }
  expect((await call(server.app, { method: 'POST', url: '/api/sessions', payload })).statusCode).toBe(201)
  expect((await importZip(server.app, await zipped(files))).json()).toMatchObject({ code: 'IMPORT_ID_TAKEN' })
  expect((await call(server.app, { method: 'GET', url: '/api/dogs' })).json()).toHaveLength(1)
})

it('a report of another version of the analysis is made anew, and is the same for the same samples', async () => {
  const { files, session } = await small()
  const path = `sessions/${session}/report.json`
  const report = jsonOf(files, path)
  const old = new Map(files).set(path, Buffer.from(JSON.stringify({ ...report, version: '0', session: {} })))
  const app = await testApp({ dataDir: await temporaryDir() })
  const answer = await importZip(app, await zipped(withManifest(old)))
  expect(answer.json()).toMatchObject({ sessions: 1, analysedAgain: 1 })
  expect((await call(app, { method: 'GET', url: `/api/sessions/${session}/report` })).json()).toEqual(report)
})

it('folders that a program adds when it packs the files again are passed over', async () => {
  const { files } = await small()
  const packed = new ZipFile()
  packed.addEmptyDirectory('schema')
  for (const [path, content] of files) packed.addBuffer(content, path)
  packed.end()
  const app = await testApp({ dataDir: await temporaryDir() })
  expect((await importZip(app, await buffer(packed.outputStream))).statusCode).toBe(201)
})

it('what is no form with a file is refused', async () => {
  const app = await testApp()
  const plain = await call(app, { method: 'POST', url: '/api/imports', payload: {} })
  expect(plain.json()).toMatchObject({ code: 'MEDIA_TYPE' })
})

/** The ZIP with a name of the same length in place of another, in both headers. */
function renamed(zip: Buffer, from: string, to: Buffer): Buffer {
  const other = Buffer.from(zip)
  for (let at = other.indexOf(from); at >= 0; at = other.indexOf(from, at + 1)) to.copy(other, at)
  return other
}

/** Where the record of a file in the central directory begins (APPNOTE.TXT 4.3.12). */
function centralRecord(zip: Buffer, name: string): number {
  for (
    let at = zip.indexOf('PK\x01\x02', 0, 'latin1');
    at >= 0;
    at = zip.indexOf('PK\x01\x02', at + 1, 'latin1')
  ) {
    if (zip.subarray(at + 46, at + 46 + zip.readUInt16LE(at + 28)).toString() === name) return at
  }
  throw new Error(`no ${name}`)
}
