import { readFile } from 'node:fs/promises'
import { expect, it, onTestFinished } from 'vitest'
import type { SampleFrame } from '#protocol/frames'
import { openSqliteStore } from '#server/store/sqlite/store'
import type { Trace } from '#signal/trace/trace'
import { parseTrace } from '#signal/trace/parse'
import { temporaryDir } from '../helpers/build-app.ts'
import { sendRecording } from '../helpers/example-sender.ts'
import { serverProcess } from '../helpers/server-process.ts'
import { storedSamples } from '../helpers/stored-samples.ts'

const FILE = new URL('../../sample-traces/radio-loss.csv', import.meta.url)
const PACKET = 25

/** What the sensor's counter said: one more for each sample, and for each that fits into a gap. */
function counted(t: Float64Array, rateHz: number): number[] {
  let next = 0
  return Array.from(t, (s, i) => (next += i === 0 ? 0 : Math.max(1, Math.round((s - t[i - 1]) * rateHz))))
}

/** The file as a sensor would have sent it: runs of samples, and lost frames where the radio lost some. */
function framesOf({ t, acc, rateHz }: Trace, startedAtUs: number): SampleFrame[] {
  const index = counted(t, rateHz)
  const frames: SampleFrame[] = []
  const add = (firstIndex: number, count: number, values: Float64Array[]) => {
    const arrivedAtUs = startedAtUs + ((firstIndex + count) / rateHz) * 1e6
    const encoding = values.length > 0 ? 'float32' : 'lost'
    frames.push({ firstIndex, count, channels: 3, encoding, arrivedAtUs, values })
  }
  for (let from = 0, next = 0; from < index.length;) {
    if (index[from] > next) add(next, index[from] - next, [])
    let to = from + 1
    while (to < index.length && to - from < PACKET && index[to] === index[to - 1] + 1) to++
    add(
      index[from],
      to - from,
      [acc.x, acc.y, acc.z].map((axis) => axis.slice(from, to)),
    )
    next = index[to - 1] + 1
    from = to
  }
  return frames
}

it('the example client stores a sample trace exactly, though the server is killed twice on the way', async () => {
  const { trace } = parseTrace(await readFile(FILE, 'utf8'))
  const startedAtUs = 1_773_500_000_000_000
  const frames = framesOf(trace, startedAtUs)
  const endIndex = frames[frames.length - 1].firstIndex + frames[frames.length - 1].count

  const dataDir = await temporaryDir()
  let server = await serverProcess(dataDir)
  const { port } = new URL(server.url)
  const post = async (path: string, body: object) => {
    const headers = { 'content-type': 'application/json' }
    const request = { method: 'POST', headers, body: JSON.stringify(body) }
    return ((await (await fetch(`${server.url}${path}`, request)).json()) as { id: string }).id
  }
  const dogId = await post('/api/dogs', { name: 'Juniper' })
  const session = await post('/api/sessions', { dogId, sensor: 'replay' })

  const acknowledged: number[] = []
  const sending = sendRecording({
    url: `${server.url.replace('http', 'ws')}/api/live/send`,
    hello: {
      type: 'hello',
      protocol: 1,
      session,
      stream: 'example-stream',
      rateHz: trace.rateHz,
      channels: 3,
      startedAtUs,
    },
    frames,
    paceMs: 1,
    acknowledged: (nextIndex) => void acknowledged.push(nextIndex),
  })
  for (const share of [0.3, 0.6]) {
    await expect
      .poll(() => Math.max(0, ...acknowledged), { timeout: 60_000 })
      .toBeGreaterThan(share * endIndex)
    server.child.kill('SIGKILL')
    await server.exited
    server = await serverProcess(dataDir, port)
  }
  await sending
  // What was acknowledged is never taken back.
  expect(acknowledged).toEqual([...acknowledged].sort((a, b) => a - b))
  expect(acknowledged.at(-1)).toBe(endIndex)
  server.child.kill('SIGTERM')
  await server.exited

  const store = await openSqliteStore(dataDir, 1)
  onTestFinished(() => store.close())
  // float32 frames keep what fits into 24 bits of each value of the file.
  const truth = counted(trace.t, trace.rateHz).map((index, i) => [
    index,
    ...[trace.acc.x, trace.acc.y, trace.acc.z].map((axis) => Math.fround(axis[i])),
  ])
  expect(await storedSamples(store, 'example-stream')).toEqual(truth)
  const lost = frames.filter(({ encoding }) => encoding === 'lost')
  expect(lost.length).toBeGreaterThan(0)
  expect(await store.series.lostRanges('example-stream')).toEqual(
    lost.map(({ firstIndex, count }) => ({ firstIndex, count })),
  )
  expect((await store.records.session(session))!.state).toBe('finished')
}, 180_000)
