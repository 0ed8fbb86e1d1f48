import 'fake-indexeddb/auto'
import { IDBFactory } from 'fake-indexeddb'
import { beforeEach, describe, expect, test, vi } from 'vitest'
import { decodeFrame } from '#protocol/frames'
import { openIdbStore } from '../../dashboard/recorder/idb-store.ts'
import type { FromRecorder, RecordingPlan } from '../../dashboard/recorder/messages.ts'
import type { OutboxStore } from '../../dashboard/recorder/outbox-store.ts'
import { StreamRecorder } from '../../dashboard/recorder/stream-recorder.ts'
import { FakeServer } from './fakes/fake-server.ts'

const SERVER = 'http://test/'
const PACKET = 10
/** Generous: the machine may be busy. */
const WAIT_MS = 20_000

const recording: RecordingPlan = {
  session: { id: 's'.repeat(16), dogId: 'd', sensor: 'simulated harness' },
  dogName: 'Juniper',
  stream: 'stream-a',
  rateHz: 100,
  channels: 3,
  startedAtUs: 0,
  plan: null,
}

/** Exact in float32, different for every sample and axis. */
const sample = (i: number) => [(i % 256) / 64, ((i * 7) % 256) / 64 - 2, 9.75 + ((i * 13) % 32) / 64]

/** Packets 0..11; packet 5 never comes. */
const LOST_PACKET = 5
const PACKETS = Array.from({ length: 12 }, (_, k) => k).filter((k) => k !== LOST_PACKET)
const isLost = (i: number) => Math.floor(i / PACKET) === LOST_PACKET

const packet = (k: number) => ({
  type: 'samples' as const,
  firstIndex: k * PACKET,
  arrivedAtUs: 0,
  values: [0, 1, 2].map((axis) =>
    Float64Array.from({ length: PACKET }, (_, i) => sample(k * PACKET + i)[axis]),
  ),
})

/** Stops the world at step `at`: from then on nothing is kept, sent or answered. */
class Crash {
  readonly at: number
  steps = 0
  happened = false
  onCrash = () => {}

  constructor(at: number) {
    this.at = at
  }

  step() {
    if (this.happened || this.steps++ !== this.at) return
    this.happened = true
    this.onCrash()
  }
}

/** What the store said it keeps, and a chance to crash before and after each of its promises. */
function watched(store: OutboxStore, crash: Crash) {
  const kept = { samples: 0, marks: new Set<string>(), finished: false, begun: false }
  const never = new Promise<never>(() => {})
  const around = async <T>(work: () => Promise<T>, after: () => void): Promise<T> => {
    crash.step()
    if (crash.happened) return never
    const result = await work()
    crash.step()
    if (crash.happened) return never
    after()
    return result
  }
  const watchedStore: OutboxStore = {
    begin: (plan) =>
      around(
        () => store.begin(plan),
        () => (kept.begun = true),
      ),
    opened: (stream) =>
      around(
        () => store.opened(stream),
        () => {},
      ),
    keep: (stream, batch) =>
      around(
        () => store.keep(stream, batch),
        () => {
          const last = batch.frames.at(-1)
          if (last) kept.samples = last.firstIndex + last.count
          for (const { id } of batch.marks) kept.marks.add(id)
          if (batch.finished) kept.finished = true
        },
      ),
    forgetBelow: (stream, index) =>
      around(
        () => store.forgetBelow(stream, index),
        () => {},
      ),
    forgetMark: (stream, id) =>
      around(
        () => store.forgetMark(stream, id),
        () => {},
      ),
    discard: (stream) =>
      around(
        () => store.discard(stream),
        () => {},
      ),
    read: (stream) => store.read(stream),
    list: () => store.list(),
    close: () => store.close(),
  }
  return { watchedStore, kept }
}

const turns = async (count: number) => {
  for (let i = 0; i < count; i++) await new Promise((resolve) => setTimeout(resolve, 0))
}

/** Records all packets and two marks, and finishes; crashes at step `at`. Says what had been kept. */
async function recordUntil(at: number, server: FakeServer) {
  const crash = new Crash(at)
  const { watchedStore, kept } = watched(await openIdbStore(), crash)
  const told: FromRecorder[] = []
  const recorder = new StreamRecorder((message) => told.push(message), {
    openStore: async () => watchedStore,
    hold: async () => true,
    random: () => 0,
    forgetEveryMs: 0,
    fetch: (async (...args: Parameters<typeof fetch>) => {
      crash.step()
      if (crash.happened) return new Promise<never>(() => {})
      return server.fetch(...args)
    }) as typeof fetch,
    create: () => {
      const socket = server.create()
      const send = socket.send
      socket.send = (data) => {
        crash.step()
        if (!crash.happened) send.call(socket, data)
        crash.step()
      }
      const receive = socket.receive
      socket.receive = (message) => {
        if (!crash.happened) receive.call(socket, message)
      }
      return socket
    },
  })
  crash.onCrash = () => recorder.close()
  // Whatever reaches the server must be on this device already.
  server.onFrame = (bytes) => {
    const { encoding, firstIndex, count } = decodeFrame(bytes)
    if (encoding !== 'lost') expect(kept.samples).toBeGreaterThanOrEqual(firstIndex + count)
  }
  recorder.receive({ type: 'begin', recording, serverUrl: SERVER })
  for (const k of PACKETS) {
    if (crash.happened) break
    recorder.receive(packet(k))
    if (k === 2) recorder.receive({ type: 'mark', id: 'mark-1', kind: 'support-off', atS: 0.2 })
    if (k === 8) recorder.receive({ type: 'mark', id: 'mark-2', kind: 'support-on', atS: 0.8 })
    await turns(2)
  }
  if (!crash.happened) recorder.receive({ type: 'finish' })
  await vi.waitFor(() => {
    const ended = told.some(({ type }) => type === 'finished')
    if (!ended && !crash.happened) throw new Error('still under way')
  }, WAIT_MS)
  // What was already on its way into the database gets there.
  await turns(5)
  recorder.close()
  server.onFrame = () => {}
  return { crashed: crash.happened, steps: crash.steps, kept }
}

async function sendTheRest(server: FakeServer) {
  const store = await openIdbStore()
  for (const { stream } of await store.list()) {
    const told: FromRecorder[] = []
    const recorder = new StreamRecorder((message) => told.push(message), {
      hold: async () => true,
      random: () => 0,
      fetch: server.fetch,
      create: server.create,
    })
    recorder.receive({ type: 'resume', stream: stream.recording.stream, serverUrl: SERVER })
    await vi.waitFor(() => expect(told.map(({ type }) => type)).toContain('finished'), WAIT_MS)
    recorder.close()
  }
  expect(await store.list()).toEqual([])
}

beforeEach(() => {
  globalThis.indexedDB = new IDBFactory()
})

describe('a recording that is cut off', () => {
  test('at any step loses nothing that was kept, sends nothing twice into the session, and finishes it', async () => {
    let crashes = 0
    for (let at = 0; ; at++) {
      globalThis.indexedDB = new IDBFactory()
      const server = new FakeServer()
      const { crashed, kept } = await recordUntil(at, server)
      await sendTheRest(server)
      if (kept.begun) {
        const { samples, marks, finished } = server.session(recording.session.id)
        const where = `cut off at step ${at}`
        expect(samples.length, where).toBeGreaterThanOrEqual(kept.samples)
        samples.forEach((stored, i) =>
          expect(stored, `${where}, sample ${i}`).toEqual(isLost(i) ? null : sample(i)),
        )
        for (const id of kept.marks) expect([...marks.keys()], where).toContain(id)
        expect(finished, where).toBe(true)
        expect(server.errors, where).toEqual([])
        if (kept.finished) expect(samples.length, where).toBe(12 * PACKET)
      }
      if (!crashed) break
      crashes++
    }
    // begin, opening, eleven packets, marks, acknowledgements and the end each have steps of their own.
    expect(crashes).toBeGreaterThan(40)
  }, 120_000)
})
