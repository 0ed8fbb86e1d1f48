import { describe, expect, test } from 'vitest'
import { encodeFrame } from '#protocol/frames'
import { parseTrace } from '#signal/trace/parse'
import type { FromRecorder, ToRecorder } from '../../dashboard/recorder/messages.ts'
import type { KeptContent, OutboxStore } from '../../dashboard/recorder/outbox-store.ts'
import { UnsentSessions } from '../../dashboard/recorder/unsent.svelte.ts'

function kept(stream: string, { finished = false, opened = true, packets = 3 } = {}): KeptContent {
  const frames = Array.from({ length: packets }, (_, k) => {
    const firstIndex = 500 + 10 * k
    const values = [0, 1, 2].map((axis) => new Float64Array(10).fill(k + axis / 4))
    const frame = {
      firstIndex,
      count: 10,
      channels: 3 as const,
      encoding: 'float32' as const,
      arrivedAtUs: 0,
      values,
    }
    return { firstIndex, count: 10, bytes: encodeFrame(frame) }
  })
  return {
    stream: {
      recording: {
        session: { id: `session-${stream}`, dogId: 'd', sensor: 'bluetooth' },
        dogName: 'Juniper',
        stream,
        rateHz: 100,
        channels: 3,
        startedAtUs: Date.UTC(2026, 10, 25, 10) * 1000,
        plan: null,
      },
      opened,
      finished,
      nextIndex: 500 + 10 * packets,
    },
    frames,
    marks: [
      { type: 'mark', id: 'early', atS: 4, kind: 'support-on' },
      { type: 'mark', id: 'late', atS: 5.1, kind: 'support-off' },
    ].slice(0, packets > 0 ? 2 : 0) as KeptContent['marks'],
  }
}

function withKept(...contents: KeptContent[]) {
  const map = new Map(contents.map((content) => [content.stream.recording.stream, content]))
  const store: Pick<OutboxStore, 'list' | 'read' | 'discard'> = {
    list: async () =>
      [...map.values()].map(({ stream, frames, marks }) => ({
        stream,
        unsentSamples: frames.reduce((sum, { count }) => sum + count, 0),
        unsentMarks: marks.length,
      })),
    read: async (stream) => map.get(stream) ?? null,
    discard: async (stream) => void map.delete(stream),
  }
  const held = new Set<string>()
  const senders: { posted: ToRecorder[]; tell: (message: FromRecorder) => void; closed: boolean }[] = []
  const unsent = new UnsentSessions({
    openStore: async () => store as OutboxStore,
    held: async () => held,
    serverUrl: 'http://test',
    open: (tell) => {
      const sender = { posted: [] as ToRecorder[], tell, closed: false }
      senders.push(sender)
      return { post: (message) => sender.posted.push(message), close: () => (sender.closed = true) }
    },
  })
  return { unsent, held, senders, map }
}

describe('unsent sessions', () => {
  test('say whose session it is and how much of it is only here', async () => {
    const { unsent, senders } = withKept(kept('a'))
    await unsent.refresh()
    expect(unsent.sessions).toMatchObject([
      { dogName: 'Juniper', startedAt: '2026-11-25T10:00:00.000Z', unsentS: 0.3, state: 'waiting' },
    ])
    expect(senders).toHaveLength(0)
  })

  test('leave out what another tab records or sends', async () => {
    const { unsent, held } = withKept(kept('a'), kept('b'))
    held.add('a')
    await unsent.refresh()
    expect(unsent.sessions.map(({ stream }) => stream)).toEqual(['b'])
  })

  test('go one by one when they are sent, each to its end', async () => {
    const { unsent, senders } = withKept(kept('a'), kept('b'))
    await unsent.refresh()
    unsent.send('b')
    unsent.send('b')
    expect(senders).toHaveLength(1)
    expect(senders[0].posted).toEqual([{ type: 'resume', stream: 'b', serverUrl: 'http://test' }])
    expect(unsent.sessions[1].state).toBe('sending')
    senders[0].tell({ type: 'finished' })
    expect(unsent.sessions.map(({ stream }) => stream)).toEqual(['a'])
    expect(unsent.sent).toBe(1)
    expect(senders[0].closed).toBe(true)
  })

  test('are sent without asking when the person had finished them', async () => {
    const { unsent, senders } = withKept(kept('a', { finished: true }))
    await unsent.refresh()
    expect(senders).toHaveLength(1)
    await unsent.refresh()
    expect(senders).toHaveLength(1)
  })

  test('stay, with the reason, when the server refuses', async () => {
    const { unsent, senders, map } = withKept(kept('a'))
    await unsent.refresh()
    unsent.send('a')
    senders[0].tell({ type: 'refused', message: 'The session was deleted.' })
    expect(unsent.sessions).toMatchObject([
      { state: 'refused', message: 'The server will not take it: The session was deleted.' },
    ])
    await unsent.refresh()
    expect(unsent.sessions).toMatchObject([{ state: 'refused' }])
    await unsent.discard('a')
    expect(unsent.sessions).toEqual([])
    expect(map.size).toBe(0)
  })

  test('stay, in plain words, when the session was finished or deleted on the server', async () => {
    const { unsent, senders, map } = withKept(kept('a'), kept('b'))
    await unsent.refresh()
    unsent.send('a')
    unsent.send('b')
    senders[0].tell({ type: 'refused', code: 'SESSION_FINISHED', message: 'raw' })
    senders[1].tell({ type: 'refused', code: 'SESSION_UNKNOWN', message: 'raw' })
    expect(unsent.of('session-a')?.message).toMatch(/^This session was finished on the server/)
    expect(unsent.of('session-b')?.message).toMatch(/^This session was deleted on the server/)
    await unsent.refresh()
    expect(unsent.sessions.map(({ state, unsentS }) => [state, unsentS])).toEqual([
      ['refused', 0.3],
      ['refused', 0.3],
    ])
    expect(map.size).toBe(2)
    expect(await unsent.csv('a')).not.toBeNull()
    expect(unsent.of('session-c')).toBeNull()
  })

  test('of which nothing was ever taken are cleared away', async () => {
    const { unsent, map } = withKept(kept('a', { opened: false, packets: 0 }))
    await unsent.refresh()
    expect(unsent.sessions).toEqual([])
    expect(map.size).toBe(0)
  })

  test('can be taken away as a file that can be uploaded', async () => {
    const { unsent } = withKept(kept('a', { packets: 15 }))
    const { trace } = parseTrace((await unsent.csv('a'))!)
    expect(trace.rateHz).toBe(100)
    expect(trace.startedAtUs).toBe((Date.UTC(2026, 10, 25, 10) + 5000) * 1000)
    expect(trace.acc.y).toHaveLength(150)
    expect(trace.acc.y[29]).toBe(2.25)
    expect(trace.marks).toMatchObject([{ kind: 'support-off' }])
    expect(trace.marks[0].atS).toBeCloseTo(0.1, 9)
  })
})
