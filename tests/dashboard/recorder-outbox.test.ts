import 'fake-indexeddb/auto'
import { IDBFactory } from 'fake-indexeddb'
import { beforeEach, describe, expect, onTestFinished, test, vi } from 'vitest'
import { openIdbStore } from '../../dashboard/recorder/idb-store.ts'
import type { FromRecorder, RecordingPlan } from '../../dashboard/recorder/messages.ts'
import type { OutboxStore } from '../../dashboard/recorder/outbox-store.ts'
import { StreamRecorder } from '../../dashboard/recorder/stream-recorder.ts'
import type { StreamRecorderParts } from '../../dashboard/recorder/stream-recorder.ts'
import { FakeServer } from './fakes/fake-server.ts'

/** Generous: the machine may be busy. */
const WAIT_MS = 20_000
vi.setConfig({ testTimeout: 60_000 })

const recording: RecordingPlan = {
  session: { id: 's'.repeat(16), dogId: 'd', sensor: 'simulated harness' },
  dogName: 'Juniper',
  stream: 'stream-a',
  rateHz: 100,
  channels: 3,
  startedAtUs: 0,
  plan: null,
}

const packet = (firstIndex: number, count = 10) => ({
  type: 'samples' as const,
  firstIndex,
  arrivedAtUs: firstIndex * 10_000,
  values: [0, 1, 2].map((axis) => Float64Array.from({ length: count }, (_, i) => firstIndex + i + axis / 4)),
})

function recorderOn(server: FakeServer, parts: StreamRecorderParts = {}) {
  const told: FromRecorder[] = []
  const recorder = new StreamRecorder((message) => told.push(message), {
    hold: async () => true,
    random: () => 0,
    fetch: server.fetch,
    create: server.create,
    ...parts,
  })
  onTestFinished(() => recorder.close())
  const progress = () => told.filter((message) => message.type === 'progress').at(-1)?.progress
  const has = (type: FromRecorder['type']) => told.some((message) => message.type === type)
  return { told, recorder, progress, has }
}

/** A store that refuses to keep anything while `full`, as one over its quota does. */
async function fillableStore() {
  const store = await openIdbStore()
  const state = { full: false }
  const keeping = async <T>(work: () => Promise<T>) => {
    if (state.full) throw new DOMException('The quota has been exceeded.', 'QuotaExceededError')
    return work()
  }
  const fillable: OutboxStore = {
    begin: (plan) => keeping(() => store.begin(plan)),
    opened: (stream) => keeping(() => store.opened(stream)),
    keep: (stream, batch) => keeping(() => store.keep(stream, batch)),
    forgetBelow: (stream, index) => store.forgetBelow(stream, index),
    forgetMark: (stream, id) => store.forgetMark(stream, id),
    discard: (stream) => store.discard(stream),
    read: (stream) => store.read(stream),
    list: () => store.list(),
    close: () => store.close(),
  }
  return { store, fillable, state }
}

beforeEach(() => {
  globalThis.indexedDB = new IDBFactory()
})

describe('the outbox of a recording', () => {
  test('without IndexedDB goes on from memory and says that nothing is kept', async () => {
    const server = new FakeServer()
    const openStore = async () => {
      throw new DOMException('A mutation operation was attempted …', 'InvalidStateError')
    }
    const { recorder, progress, has } = recorderOn(server, { openStore })
    recorder.receive({ type: 'begin', recording, serverUrl: 'http://test/' })
    recorder.receive(packet(0))
    await vi.waitFor(() => expect(progress()?.keptOnDevice).toBe(false), WAIT_MS)
    recorder.receive({ type: 'finish' })
    await vi.waitFor(() => expect(has('finished')).toBe(true), WAIT_MS)
    expect(server.session(recording.session.id).samples).toHaveLength(10)
  })

  test('over its quota goes on from memory, says so, and keeps everything again once there is room', async () => {
    const server = new FakeServer()
    server.online = false
    const { store, fillable, state } = await fillableStore()
    const { recorder, progress } = recorderOn(server, { openStore: async () => fillable, keepAgainMs: 20 })
    recorder.receive({ type: 'begin', recording, serverUrl: 'http://test/' })
    recorder.receive(packet(0))
    await vi.waitFor(
      () => expect(progress()).toMatchObject({ keptOnDevice: true, unacknowledgedS: 0.1 }),
      WAIT_MS,
    )
    state.full = true
    recorder.receive(packet(10))
    recorder.receive({ type: 'mark', id: 'm', kind: 'support-off', atS: 0.1 })
    await vi.waitFor(
      () => expect(progress()).toMatchObject({ keptOnDevice: false, unacknowledgedS: 0.2 }),
      WAIT_MS,
    )
    state.full = false
    await vi.waitFor(() => expect(progress()?.keptOnDevice).toBe(true), WAIT_MS)
    const kept = await store.read(recording.stream)
    expect(kept?.frames.reduce((sum, { count }) => sum + count, 0)).toBe(20)
    expect(kept?.marks.map(({ id }) => id)).toEqual(['m'])
  })

  test('over its quota from the first moment on still records', async () => {
    const server = new FakeServer()
    const { fillable, state } = await fillableStore()
    state.full = true
    const { recorder, has } = recorderOn(server, { openStore: async () => fillable })
    recorder.receive({ type: 'begin', recording, serverUrl: 'http://test/' })
    recorder.receive(packet(0))
    recorder.receive({ type: 'finish' })
    await vi.waitFor(() => expect(has('finished')).toBe(true), WAIT_MS)
    expect(server.session(recording.session.id)).toMatchObject({ finished: true })
  })

  test('remembers that the person finished while there was no network', async () => {
    const server = new FakeServer()
    server.online = false
    const first = recorderOn(server)
    first.recorder.receive({ type: 'begin', recording, serverUrl: 'http://test/' })
    first.recorder.receive(packet(0))
    first.recorder.receive({ type: 'finish' })
    const store = await openIdbStore()
    await vi.waitFor(async () => expect((await store.list())[0]?.stream.finished).toBe(true), WAIT_MS)
    first.recorder.close()
    server.online = true
    const second = recorderOn(server)
    second.recorder.receive({ type: 'resume', stream: recording.stream, serverUrl: 'http://test/' })
    await vi.waitFor(() => expect(second.has('finished')).toBe(true), WAIT_MS)
    expect(server.session(recording.session.id).samples).toHaveLength(10)
    expect(await store.list()).toEqual([])
  })

  test('opens the session when the network is back, once', async () => {
    const server = new FakeServer()
    server.online = false
    const { recorder, progress } = recorderOn(server)
    recorder.receive({ type: 'begin', recording, serverUrl: 'http://test/' })
    recorder.receive(packet(0))
    await vi.waitFor(() => expect(progress()?.unacknowledgedS).toBe(0.1), WAIT_MS)
    expect(server.sessions.size).toBe(0)
    server.online = true
    await vi.waitFor(() => expect(progress()?.unacknowledgedS).toBe(0), WAIT_MS)
    expect(server.openings).toBe(1)
  })

  test('tells a loss inside the stream and counts it', async () => {
    const server = new FakeServer()
    const { recorder, progress } = recorderOn(server)
    recorder.receive({ type: 'begin', recording, serverUrl: 'http://test/' })
    recorder.receive(packet(0))
    recorder.receive(packet(25, 5))
    await vi.waitFor(
      () => expect(server.sessions.get(recording.session.id)?.samples).toHaveLength(30),
      WAIT_MS,
    )
    const { samples } = server.session(recording.session.id)
    expect(samples.map((sample) => sample === null)).toEqual(samples.map((_, i) => i >= 10 && i < 25))
    await vi.waitFor(() => expect(progress()?.lostSamples).toBe(15), WAIT_MS)
  })

  test('is left alone when another tab has the stream', async () => {
    const { recorder, told } = recorderOn(new FakeServer(), { hold: async () => false })
    recorder.receive({ type: 'resume', stream: recording.stream, serverUrl: 'http://test/' })
    await vi.waitFor(() => expect(told).toHaveLength(1), WAIT_MS)
    expect(told[0]).toMatchObject({ type: 'failed', message: expect.stringContaining('Another tab') })
  })

  test('a connection that swallows everything is noticed and replaced, and nothing is lost', async () => {
    const server = new FakeServer()
    let swallowing = false
    const create = () => {
      const socket = server.create()
      const send = socket.send
      socket.send = (data) => {
        if (!swallowing) send.call(socket, data)
      }
      return socket
    }
    const { recorder } = recorderOn(server, { create, heartbeatMs: 50 })
    recorder.receive({ type: 'begin', recording, serverUrl: 'http://test/' })
    recorder.receive(packet(0))
    await vi.waitFor(
      () => expect(server.sessions.get(recording.session.id)?.samples).toHaveLength(10),
      WAIT_MS,
    )
    swallowing = true
    recorder.receive(packet(10))
    setTimeout(() => (swallowing = false), 120)
    await vi.waitFor(() => expect(server.session(recording.session.id).samples).toHaveLength(20), WAIT_MS)
    expect(server.hellos).toBeGreaterThan(1)
  })

  test('whose session was deleted meanwhile is refused and stays on the device', async () => {
    const server = new FakeServer()
    const first = recorderOn(server)
    first.recorder.receive({ type: 'begin', recording, serverUrl: 'http://test/' })
    first.recorder.receive(packet(0))
    await vi.waitFor(
      () => expect(server.sessions.get(recording.session.id)?.samples).toHaveLength(10),
      WAIT_MS,
    )
    server.cut()
    first.recorder.receive(packet(10))
    await vi.waitFor(() => expect(first.progress()?.unacknowledgedS).toBe(0.1), WAIT_MS)
    first.recorder.close()
    server.sessions.clear()
    server.online = true
    const second = recorderOn(server)
    second.recorder.receive({ type: 'resume', stream: recording.stream, serverUrl: 'http://test/' })
    await vi.waitFor(() => expect(second.has('refused')).toBe(true), WAIT_MS)
    expect(second.told).toContainEqual({
      type: 'refused',
      code: 'SESSION_UNKNOWN',
      message: 'There is no such session.',
    })
    const [left] = await (await openIdbStore()).list()
    expect(left.unsentSamples).toBeGreaterThanOrEqual(10)
    // Opened once: asking again would have brought the deleted session back.
    expect(server.openings).toBe(1)
  })

  test('whose session was finished meanwhile is refused, and what the server lacks stays on the device', async () => {
    const server = new FakeServer()
    const first = recorderOn(server)
    first.recorder.receive({ type: 'begin', recording, serverUrl: 'http://test/' })
    first.recorder.receive(packet(0))
    await vi.waitFor(
      () => expect(server.sessions.get(recording.session.id)?.samples).toHaveLength(10),
      WAIT_MS,
    )
    server.cut()
    first.recorder.receive(packet(10))
    await vi.waitFor(() => expect(first.progress()?.unacknowledgedS).toBe(0.1), WAIT_MS)
    first.recorder.close()
    server.session(recording.session.id).finished = true
    server.online = true
    const second = recorderOn(server, { forgetEveryMs: 0 })
    second.recorder.receive({ type: 'resume', stream: recording.stream, serverUrl: 'http://test/' })
    await vi.waitFor(() => expect(second.has('refused')).toBe(true), WAIT_MS)
    expect(second.told).toContainEqual(expect.objectContaining({ code: 'SESSION_FINISHED' }))
    expect(second.has('finished')).toBe(false)
    const kept = await (await openIdbStore()).read(recording.stream)
    expect(kept?.frames.at(-1)).toMatchObject({ firstIndex: 10, count: 10 })
    expect(server.session(recording.session.id).samples).toHaveLength(10)
  })
})
