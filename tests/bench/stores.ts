/**
 * `npm run bench:stores`: both stores against plain files with the same bytes, in one run. Times on a shared machine
 * vary; read the ratios, and those of one row only.
 *
 * Live: 16 streams, a packet of 10 samples of each at once, the next when all are acknowledged; the file gets the same
 * bytes and is flushed as often. Trace: an hour at once; the file is flushed once. InfluxDB runs on this machine.
 */
import {
  closeSync,
  fsyncSync,
  mkdtempSync,
  openSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  writeSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { gzipSync } from 'node:zlib'
import { openInfluxStore } from '#server/store/influx/store'
import { openSqliteStore } from '#server/store/sqlite/store'
import type { Store } from '#server/store/store'
import type { SampleColumns } from '#server/store/time-series'
import { InfluxProcess, newDatabase } from '../helpers/influx-server.ts'
import { hasInfluxd } from '../helpers/influxd.mjs'
import { addStream } from '../influx/streams.ts'
import { benchTrace } from './traces.ts'

const STREAMS = 16
const PACKET = 10
const LIVE_SAMPLES = 1000
const COMMIT_MS = 1

const folder = mkdtempSync(join(tmpdir(), 'swaybook-bench-'))
const { x, y, z } = benchTrace(60).acc
const trace: SampleColumns = { dtype: 'float32', values: [x, y, z].map((axis) => Float32Array.from(axis)) }
const count = x.length

const part = (from: number, to: number): SampleColumns => ({
  dtype: 'float32',
  values: trace.values.map((column) => column.subarray(from, to)),
})
const bytesOf = ({ values }: SampleColumns) =>
  Buffer.concat(values.map((c) => Buffer.from(c.buffer, c.byteOffset, c.byteLength)))

async function secondsOf(run: () => unknown): Promise<number> {
  const start = performance.now()
  await run()
  return (performance.now() - start) / 1000
}

interface Times {
  readonly live: number
  readonly trace: number
  readonly read: number
}

async function plainFiles(): Promise<Times> {
  const file = openSync(join(folder, 'live'), 'w')
  const live = await secondsOf(() => {
    for (let i = 0; i < LIVE_SAMPLES; i += PACKET) {
      for (let s = 0; s < STREAMS; s++) writeSync(file, bytesOf(part(i, i + PACKET)))
      fsyncSync(file)
    }
  })
  closeSync(file)
  const whole = openSync(join(folder, 'trace'), 'w')
  const write = await secondsOf(() => {
    writeSync(whole, bytesOf(trace))
    fsyncSync(whole)
  })
  closeSync(whole)
  const read = await secondsOf(() => new Float32Array(readFileSync(join(folder, 'trace')).buffer))
  return { live, trace: write, read }
}

async function throughStore(store: Store): Promise<Times> {
  const ids = Array.from({ length: STREAMS }, (_, i) => `live-${i}`)
  for (const id of [...ids, 'warm', 'trace']) await addStream(store, id, `dog-of-${id}`)
  await store.series.appendSamples('warm', 0, part(0, 5000))
  const live = await secondsOf(async () => {
    for (let i = 0; i < LIVE_SAMPLES; i += PACKET) {
      await Promise.all(ids.map((id) => store.series.appendSamples(id, i, part(i, i + PACKET))))
    }
  })
  const write = await secondsOf(() => store.series.appendSamples('trace', 0, trace))
  let got = 0
  const read = await secondsOf(async () => {
    for await (const block of store.series.readSamples('trace', 0, count)) got += block.count
  })
  if (got !== count) throw new Error(`read ${got} of ${count} samples`)
  const { state } = store.seriesStatus()
  if (state !== 'ok') throw new Error(`the store is ${state}: its numbers would say nothing`)
  return { live, trace: write, read }
}

function bytesIn(dir: string, end = ''): number {
  return readdirSync(dir, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && entry.name.endsWith(end))
    .reduce((sum, entry) => sum + statSync(join(entry.parentPath, entry.name)).size, 0)
}

/** Of an hour in a store that holds nothing else, against the same store empty. */
async function sqliteBytes(): Promise<number> {
  const sizes: number[] = []
  for (const holds of [false, true]) {
    const dir = mkdtempSync(join(folder, 'size-'))
    const store = await openSqliteStore(dir, COMMIT_MS)
    await addStream(store, 'trace')
    if (holds) await store.series.appendSamples('trace', 0, trace)
    await store.close()
    sizes.push(bytesIn(dir))
  }
  return sizes[1] - sizes[0]
}

/** Once InfluxDB has packed all it was given. Its index of series, 32 MB from the first point on, is not counted. */
async function influxBytes(influx: InfluxProcess): Promise<number> {
  const settings = await newDatabase(influx)
  const dir = mkdtempSync(join(folder, 'size-'))
  const store = await openInfluxStore(dir, settings, COMMIT_MS, fail)
  await addStream(store, 'trace')
  await store.series.appendSamples('trace', 0, trace)
  await store.close()
  const name = settings.target.api === 'v1' ? settings.target.database : ''
  while (bytesIn(join(influx.folder, 'wal', name)) > 0) await wait(100)
  return bytesIn(join(influx.folder, 'data', name), '.tsm')
}

const rowOf = (name: string, { live, trace: whole, read }: Times, plain: Times) =>
  console.log(
    `  ${name.padEnd(16)} ${(live / plain.live).toFixed(1).padStart(14)} ${(whole / plain.trace).toFixed(1).padStart(14)} ` +
      (read / plain.read).toFixed(1).padStart(14),
  )

function fail(error: unknown): never {
  throw error
}

try {
  const plain = await plainFiles()
  const raw = bytesOf(trace).length
  console.log(
    `Time ÷ that of a plain file with the same bytes, flushed as often (${count} samples of 3 × float32)`,
  )
  console.log('                             live      trace write     trace read')
  const sqlite = await openSqliteStore(join(folder, 'sqlite'), COMMIT_MS)
  rowOf('SQLite', await throughStore(sqlite), plain)
  await sqlite.close()
  const influx = hasInfluxd() ? await InfluxProcess.start({ packAfter: '1s' }) : null
  const sizes: [string, number][] = [
    ['plain float32', raw],
    ['gzip -6 of that', gzipSync(bytesOf(trace), { level: 6 }).length],
    ['SQLite', await sqliteBytes()],
  ]
  if (influx) {
    const store = await openInfluxStore(join(folder, 'influx'), await newDatabase(influx), COMMIT_MS, fail)
    rowOf('InfluxDB 1.x', await throughStore(store), plain)
    await store.close()
    sizes.push(['InfluxDB 1.x', await influxBytes(influx)])
    await influx.remove()
  } else console.log('  InfluxDB: not run, no influxd here')
  console.log('\nBytes per sample of an hour, and ÷ plain float32')
  for (const [name, bytes] of sizes) {
    console.log(
      `  ${name.padEnd(16)} ${(bytes / count).toFixed(2).padStart(8)} ${(bytes / raw).toFixed(2).padStart(8)}`,
    )
  }
} finally {
  rmSync(folder, { recursive: true, force: true })
}
