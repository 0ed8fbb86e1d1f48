import { describe, expect, it, vi } from 'vitest'
import type { Limits } from '#server/config'
import { addDog, addLiveSession, listeningApp, testApp } from '../helpers/build-app.ts'
import { frame, welcomedSender } from '../helpers/live-client.ts'
import { upload } from '../helpers/upload.ts'
import { madeEdf } from '../signal/trace/made-edf.ts'

// Some of these work a thread to its limits, on a machine that may be slow.
vi.setConfig({ testTimeout: 300_000 })

const MIB = 2 ** 20
const HEAD = 'time_ms,ax,ay,az\n'
const rows = (count: number, row: (i: number) => string, head = HEAD) =>
  head + Array.from({ length: count }, (_, i) => row(i)).join('')
const steady = (i: number) => `${i * 10},0,0.${i % 7},9.81\n`

/** A file of three signals whose header says what it likes of itself. */
function edf({
  perRecord = '100',
  ...header
}: {
  perRecord?: string
  records?: string
  count?: string
  duration?: string
}) {
  const signals = ['acc x', 'acc y', 'acc z'].map((label) => ({ label, dimension: 'm/s^2', perRecord }))
  return madeEdf({ ...header, signals, data: new Uint8Array(600 * 1000) })
}

/** Refused by the reader, at little cost, in words that say what to do. */
const REFUSED: readonly (readonly [string, () => string | Uint8Array])[] = [
  ['brackets a million deep', () => '['.repeat(MIB) + ']'.repeat(MIB)],
  ['brackets a million deep that never close', () => '['.repeat(MIB)],
  ['objects a million deep', () => '{"a":'.repeat(MIB) + '1' + '}'.repeat(MIB)],
  ['samples a million deep', () => `{"samples":${'['.repeat(MIB)}${']'.repeat(MIB)}}`],
  [
    'keys of every object in JSON',
    () => '{"__proto__":{"t":[1]},"constructor":{"prototype":{"t":[]}},"samples":[]}',
  ],
  [
    'a million columns',
    () => rows(3, () => `0,0,0,1${',1'.repeat(MIB)}\n`, `${HEAD.trim()}${',c'.repeat(MIB)}\n`),
  ],
  ['one row of commas', () => ','.repeat(4 * MIB)],
  ['one line without an end', () => '1'.repeat(16 * MIB)],
  ['nothing but line ends', () => '\n'.repeat(8 * MIB)],
  ['nothing but NUL', () => new Uint8Array(8 * MIB)],
  ['NUL in the cells', () => rows(2000, (i) => `${i * 10}\0,0,0.1,9.81\n`)],
  ['a byte order mark and nothing', () => Uint8Array.of(0xef, 0xbb, 0xbf)],
  ['UTF-16 of halves of pairs', () => Uint8Array.from([0xfe, 0xff, ...new Uint8Array(MIB).fill(0xd8)])],
  ['a quote that never closes', () => `${HEAD}"${'a,b\n'.repeat(2 * MIB)}`],
  ['nothing but quotes', () => '"'.repeat(4 * MIB)],
  [
    'a cell of spaces around a word',
    () => rows(50, (i) => `${i * 10},${' '.repeat(200_000)}x${' '.repeat(200_000)}y,0,9\n`),
  ],
  ['a heading of brackets', () => `time_ms,acc_x ${'['.repeat(MIB)},ay,az\n${rows(50, steady, '')}`],
  ['a heading of spaces', () => `time_ms${' '.repeat(4 * MIB)}x,ax,ay,az\n${rows(50, steady, '')}`],
  ['a number of a million digits', () => rows(20, (i) => `${i * 10},${'1'.repeat(MIB / 2)},0,9.8\n`)],
  ['a row of signs', () => rows(50, () => `${'-'.repeat(200_000)}1,0,0,9.8\n`)],
  [
    'a time of a hundred thousand digits',
    () => rows(50, (i) => `2026-01-01T00:00:00.${'0'.repeat(100_000)}${i}Z,0,0,9\n`),
  ],
  ['numbers near the end of all numbers', () => rows(2000, (i) => `${i * 10},1e308,-1e308,1e308\n`)],
  ['times near the end of all times', () => rows(2000, (i) => `${i}e305,0,0,9.81\n`)],
  [
    'one sample in another age',
    () => rows(2000, (i) => (i < 1999 ? steady(i) : '9007199254740991,0,0,9.81\n')),
  ],
  [
    'a million gaps',
    () => rows(1_000_000, (i) => `${Math.floor(i / 2) * 3_600_000 + (i % 2) * 10},0,0,10\n`),
  ],
  ['EDF of a hundred million records', () => edf({ records: '99999999' })],
  ['EDF of a hundred million samples a record', () => edf({ perRecord: '99999999' })],
  ['EDF of both', () => edf({ records: '99999999', perRecord: '99999999' })],
  ['EDF of ten thousand signals', () => edf({ count: '9999' })],
  ['EDF of records that take no time', () => edf({ duration: '1e-300' })],
  ['EDF of records that take years', () => edf({ duration: '99999999' })],
]

describe('a trace made to harm', () => {
  it.each(REFUSED)('by %s is refused in words', async (_, content) => {
    const app = await testApp({ limits: { analysisHeapMb: 512 } })
    const response = await upload(app, await addDog(app), content())
    const { code, detail } = response.json<{ code: string; detail: string }>()
    expect([response.statusCode, response.body]).toEqual([422, expect.any(String)])
    // By the reader: neither by a limit that was reached, nor by an engine that gave up.
    expect(code).not.toMatch(/^ANALYSIS_/)
    expect(detail).not.toMatch(/call stack|heap|invalid (array|string) length|undefined|NaN/i)
    expect(detail.length).toBeLessThan(600)
    expect((await app.store.records.dogs()).length).toBe(1)
  })

  /** Sends both to a server on which somebody records meanwhile, and gives the codes of the answers. */
  async function codesBeside(limits: Partial<Limits>, hostile: (k: number) => string): Promise<string[]> {
    const { app, url, wsUrl } = await listeningApp({ limits })
    const dogId = await addDog(app)
    const { sender } = await welcomedSender(wsUrl, await addLiveSession(app, dogId))
    // More than there are threads: some wait, and have their turn.
    const answers = Promise.all([1, 2, 3, 4, 5].map((k) => upload(app, dogId, hostile(k))))
    for (let at = 0; at < 200; at += 10) {
      sender.socket.send(frame(at, 10))
      await sender.next('ack', ({ nextIndex }) => nextIndex === at + 10)
    }
    const codes = (await answers).map((response) => response.json<{ code: string }>().code)
    // The same process, and nothing of them stored.
    expect((await fetch(`${url}/api/health`)).status).toBe(200)
    expect((await app.store.records.sessions({ dogId, limit: 10 })).sessions).toHaveLength(1)
    return codes
  }

  it('in time, five at once, ends its own thread, and recording goes on beside it', async () => {
    // All right row by row, and too many to be measured in the time.
    const long = (k: number) => `${rows(800_000, steady)}8000000,0,${k},9.81\n`
    const codes = await codesBeside({ analysisMs: 200 }, long)
    expect(codes).toEqual(Array(5).fill('ANALYSIS_TOO_LONG'))
  })

  it('in memory, five at once, ends its own thread, and recording goes on beside it', async () => {
    // Every row a mark of its own.
    const row = (k: number) => (i: number) => `${i * 10},0,0,10,note ${k} of many ${i}\n`
    const marks = (k: number) => rows(500_000, row(k), 'time_ms,ax,ay,az,mark\n')
    const codes = await codesBeside({ analysisMs: 280_000, analysisHeapMb: 48 }, marks)
    expect(codes).toEqual(Array(5).fill('ANALYSIS_TOO_BIG'))
  })

  it('in UTF-16 with half a character at its end is read up to there', async () => {
    const app = await testApp()
    const text = Buffer.from(rows(1500, steady), 'utf16le')
    const odd = Buffer.concat([Buffer.from([0xff, 0xfe]), text, Buffer.from([0x31])])
    const durationS = async (file: Buffer | string) => {
      const response = await upload(app, await addDog(app), file)
      return [response.statusCode, response.json<{ durationS: number }>().durationS]
    }
    expect(await durationS(odd)).toEqual([201, 15])
    expect(await durationS(rows(1500, steady))).toEqual([201, 15])
  })
})
