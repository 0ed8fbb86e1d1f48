import { expect, it, onTestFinished } from 'vitest'
import { encodeFrame } from '#protocol/frames'
import type { ServerToSender } from '#protocol/messages'
import { createRandom } from '#signal/simulator/random'
import { addDog, addLiveSession, call, listeningApp } from '../helpers/build-app.ts'
import { LiveClient } from '../helpers/live-client.ts'
import { brokenFrame, brokenMessage } from './broken-input.ts'
import { CHANNELS, SteadySender, truth } from './steady-sender.ts'
import { expectStored } from './stored-truth.ts'

const STORED = 200
const FUZZED = 6000
const LANES = 6
const POLL = { timeout: 60_000, interval: 5 }

type Client = LiveClient<ServerToSender>

const hello = (session: string, stream: string) => ({
  type: 'hello',
  protocol: 1,
  session,
  stream,
  rateHz: 100,
  channels: CHANNELS,
  startedAtUs: 1_772_386_200_000_000,
})

/** A server with a stream of 200 samples to attack, and one that goes on beside it. */
async function attacked() {
  const { app, wsUrl } = await listeningApp({ limits: { requestsPerMinute: 1e6 } })
  const dog = await addDog(app)
  const bystander = new SteadySender({ wsUrl: () => wsUrl, session: await addLiveSession(app, dog), seed: 2 })
  onTestFinished(() => bystander.stop())
  const running = bystander.run()
  const targets: SteadySender[] = []
  /** Another stream that holds 200 samples, and how to connect as its sender. */
  const target = async () => {
    const session = await addLiveSession(app, dog)
    const source = new SteadySender({ wsUrl: () => wsUrl, session, seed: 100 + targets.length })
    targets.push(source)
    const connect = async (): Promise<Client> => {
      const client: Client = await new LiveClient<ServerToSender>(`${wsUrl}/api/live/send`).opened()
      client.send(hello(session, source.stream))
      await client.next('welcome')
      return client
    }
    const first = await connect()
    first.socket.send(source.frame(0, STORED))
    await first.next('ack')
    first.socket.close()
    return { session, source, connect }
  }
  const endUnharmed = async () => {
    const before = bystander.acknowledged
    await expect.poll(() => bystander.acknowledged, POLL).toBeGreaterThan(before)
    const total = bystander.end()
    await running
    expect(bystander.connections).toBe(1)
    expect(bystander.errors).toEqual([])
    await expectStored(app.store, 2, total)
    for (const [i, { stream }] of targets.entries()) {
      const stored: number[][] = []
      for await (const { firstIndex, values } of app.store.series.readSamples(stream, 0, STORED)) {
        for (const [j] of values[0].entries()) stored.push([firstIndex + j, ...values.map((axis) => axis[j])])
      }
      expect(stored).toEqual(
        Array.from({ length: STORED }, (_, j) => [j, ...[0, 1, 2].map((axis) => truth(100 + i, axis, j))]),
      )
    }
    expect((await call(app, { url: '/api/health' })).statusCode).toBe(200)
  }
  return { app, wsUrl, target, ...(await target()), endUnharmed }
}

const frameOf = (values: readonly number[], changes: { firstIndex?: number; count?: number } = {}) =>
  encodeFrame({
    firstIndex: STORED,
    count: 1,
    channels: CHANNELS,
    encoding: 'float32',
    arrivedAtUs: 0,
    values: values.map((value) => Float64Array.of(value)),
    ...changes,
  })

const changed = (change: (view: DataView) => void) => {
  const bytes = frameOf([1, 2, 3])
  change(new DataView(bytes.buffer))
  return bytes
}

it('frames that are damaged are refused with the reason and the close code, and change nothing', async () => {
  const { app, source, connect, endUnharmed } = await attacked()
  const cases: [string, Uint8Array, string, number][] = [
    ['wrong magic', changed((view) => view.setUint8(0, 0x54)), 'FRAME_INVALID', 1007],
    ['unknown format', changed((view) => view.setUint8(1, 2)), 'FRAME_INVALID', 1007],
    ['unknown encoding', changed((view) => view.setUint8(2, 9)), 'FRAME_INVALID', 1007],
    ['absurd channels', changed((view) => view.setUint8(3, 200)), 'FRAME_INVALID', 1007],
    ['other channels than said', frameOf([1, 2, 3, 4, 5, 6]).slice(), 'FRAME_INVALID', 1007],
    ['no samples', changed((view) => view.setUint32(4, 0, true)), 'FRAME_INVALID', 1007],
    ['absurd count', changed((view) => view.setUint32(4, 0xffff_ffff, true)), 'FRAME_INVALID', 1007],
    ['more than sent', changed((view) => view.setUint32(4, 2, true)), 'FRAME_INVALID', 1007],
    ['negative index', changed((view) => view.setFloat64(8, -1, true)), 'FRAME_INVALID', 1007],
    ['broken index', changed((view) => view.setFloat64(8, 0.5, true)), 'FRAME_INVALID', 1007],
    ['index NaN', changed((view) => view.setFloat64(8, NaN, true)), 'FRAME_INVALID', 1007],
    ['index beyond 2^53', changed((view) => view.setFloat64(8, 2 ** 60, true)), 'FRAME_INVALID', 1007],
    ['arrival NaN', changed((view) => view.setFloat64(16, NaN, true)), 'FRAME_INVALID', 1007],
    ['a sample NaN', frameOf([1, NaN, 3]), 'FRAME_INVALID', 1007],
    ['a sample infinite', frameOf([1, 2, -Infinity]), 'FRAME_INVALID', 1007],
    ['cut header', frameOf([1, 2, 3]).slice(0, 31), 'FRAME_INVALID', 1007],
    ['cut payload', frameOf([1, 2, 3]).slice(0, -1), 'FRAME_INVALID', 1007],
    ['a byte too many', Uint8Array.of(...frameOf([1, 2, 3]), 0), 'FRAME_INVALID', 1007],
    ['empty', new Uint8Array(0), 'FRAME_INVALID', 1007],
  ]
  // Well formed, but not what the hello said.
  const six = encodeFrame({
    firstIndex: STORED,
    count: 1,
    channels: 6,
    encoding: 'float32',
    arrivedAtUs: 0,
    values: Array.from({ length: 6 }, () => Float64Array.of(1)),
  })
  cases[4] = ['other channels than said', six, 'FRAME_CHANNELS', 1008]
  for (const [name, bytes, error, code] of cases) {
    const client = await connect()
    client.socket.send(bytes)
    expect((await client.closed).code, name).toBe(code)
    expect(client.all('error').at(-1), name).toMatchObject({ code: error, fatal: true })
  }
  const oversize = await connect()
  oversize.socket.send(new Uint8Array(64 * 1024 + 1))
  expect((await oversize.closed).code).toBe(1009)
  expect((await app.store.series.state(source.stream)).nextIndex).toBe(STORED)
  await endUnharmed()
})

it('frames that come twice, overlap, come out of order or belong to another stream are sorted out', async () => {
  const { app, wsUrl, session, source, connect, endUnharmed } = await attacked()
  const client = await connect()
  const random = createRandom(11)
  const frames = Array.from({ length: 60 }, (_, i) => STORED + i * 10)
  // Every frame twice, each within a few places of where it belongs.
  const shuffled = [...frames, ...frames]
    .map((firstIndex) => ({ firstIndex, at: firstIndex + random.uniform(0, 60) }))
    .sort((a, b) => a.at - b.at)
  for (const { firstIndex } of shuffled) client.socket.send(source.frame(firstIndex - 5, 15))
  // What was refused as a gap is sent again, as the protocol says.
  for (const firstIndex of frames) client.socket.send(source.frame(firstIndex, 10))
  await client.next('ack', ({ nextIndex }) => nextIndex === STORED + 600)
  expect(client.all('error').every(({ code, fatal }) => code === 'FRAME_GAP' && !fatal)).toBe(true)
  expect(client.all('error').length).toBeGreaterThan(0)
  await expectStored(app.store, 100, STORED + 600)
  client.socket.close()

  const other = await new LiveClient<ServerToSender>(`${wsUrl}/api/live/send`).opened()
  other.send(hello(session, 'steady-77'))
  expect((await other.closed).code).toBe(1008)
  expect(other.all('error').at(-1)).toMatchObject({ code: 'STREAM_MISMATCH' })
  await endUnharmed()
})

it('samples of absurd size are stored as they came, and neither server nor analysis breaks', async () => {
  const { app, session, source, connect } = await attacked()
  const client = await connect()
  const sizes = [3.4e38, -3.4e38, 1e-45, -0, 1e30, 0]
  const values = Array.from({ length: CHANNELS }, (_, axis) =>
    Float64Array.from({ length: 1000 }, (_, i) => Math.fround(sizes[(i + axis) % sizes.length])),
  )
  for (let i = 0; i < 1000; i += 100) {
    client.socket.send(
      encodeFrame({
        firstIndex: STORED + i,
        count: 100,
        channels: CHANNELS,
        encoding: 'float32',
        arrivedAtUs: 0,
        values: values.map((column) => column.subarray(i, i + 100)),
      }),
    )
  }
  const nextIndex = STORED + 1000
  client.send({ type: 'finish', stream: source.stream, nextIndex })
  expect(await client.next('finished')).toMatchObject({ samples: nextIndex })
  const stored: number[] = []
  for await (const block of app.store.series.readSamples(source.stream, STORED, nextIndex)) {
    stored.push(...block.values[1])
  }
  expect(stored).toEqual([...values[1]])
  const { state, problem } = (await call(app, { url: `/api/sessions/${session}` })).json()
  expect(['finished', 'failed']).toContain(state)
  // A defect of ours would say that something went wrong here.
  expect(problem ?? '').not.toMatch(/went wrong/)
})

it(
  `${FUZZED} damaged frames and messages: each judged, none believed, the server and other streams unharmed`,
  { timeout: 240_000 },
  async () => {
    const { target, endUnharmed } = await attacked()
    const codes = new Map<string, number>()
    const closes = new Map<number, number>()
    const lane = async (seed: number) => {
      const random = createRandom(`lane ${seed}`)
      const { session, source, connect } = await target()
      let client = await connect()
      for (let i = 0; i < FUZZED / LANES; i++) {
        const from = Math.floor(random.uniform(0, STORED - 20))
        const input =
          random.uniform() < 0.5
            ? brokenFrame(source.frame(from, 1 + Math.floor(random.uniform(0, 20))), random)
            : brokenMessage({ session, stream: source.stream, id: `f${seed}-${i}` }, random)
        client.socket.send(input)
        client.send({ type: 'ping', sentAtUs: i })
        const answered = client.next('pong', ({ sentAtUs }) => sentAtUs === i).catch(() => null)
        if (await answered) continue
        const { code } = await client.closed
        closes.set(code, (closes.get(code) ?? 0) + 1)
        for (const error of client.all('error')) codes.set(error.code, (codes.get(error.code) ?? 0) + 1)
        client = await connect()
      }
    }
    await Promise.all(Array.from({ length: LANES }, (_, seed) => lane(seed)))
    expect([...closes.keys()].sort()).toEqual([1007, 1008])
    expect([...codes.keys()].filter((code) => /FAILED|INTERNAL/.test(code))).toEqual([])
    expect(closes.get(1007) ?? 0).toBeGreaterThan(FUZZED / 20)
    expect(closes.get(1008) ?? 0).toBeGreaterThan(FUZZED / 20)
    await endUnharmed()
  },
)
