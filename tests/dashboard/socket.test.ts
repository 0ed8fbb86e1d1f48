import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import { reconnectDelayMs } from '../../dashboard/lib/backoff.ts'
import { ReconnectingSocket } from '../../dashboard/lib/socket.ts'
import type { SocketStatus } from '../../dashboard/lib/socket.ts'
import { fakeSockets } from './fakes/fake-socket.ts'

beforeEach(() => void vi.useFakeTimers())
afterEach(() => void vi.useRealTimers())

function connected() {
  const fake = fakeSockets()
  const seen = { opened: 0, messages: [] as unknown[], status: [] as SocketStatus[], refused: [] as number[] }
  const socket = new ReconnectingSocket(
    'ws://test/',
    {
      onOpen: () => seen.opened++,
      onMessage: (message) => seen.messages.push(message),
      onStatus: (status) => seen.status.push(status),
      onRefused: (code) => seen.refused.push(code),
    },
    { create: fake.create, random: () => 1, heartbeatMs: 5000 },
  )
  socket.connect()
  return { fake, seen, socket }
}

describe('reconnecting socket', () => {
  test('comes back after a loss', () => {
    const { fake, seen } = connected()
    fake.newest.open()
    fake.newest.lose()
    expect(seen.status.at(-1)).toBe('waiting to reconnect')
    vi.advanceTimersByTime(500)
    fake.newest.open()
    expect(fake.sockets).toHaveLength(2)
    expect(seen.opened).toBe(2)
  })

  test('gives up an attempt that nobody answers, and tries again', () => {
    const { fake, seen } = connected()
    vi.advanceTimersByTime(10_000)
    expect(seen.status.at(-1)).toBe('waiting to reconnect')
    expect(fake.newest.closedWith).toBe(1000)
    vi.advanceTimersByTime(500)
    expect(fake.sockets).toHaveLength(2)
    fake.newest.open()
    vi.advanceTimersByTime(9000)
    expect(seen.status.at(-1)).toBe('open')
  })

  test('waits longer after each failed attempt and starts anew once the server answers', () => {
    const { fake } = connected()
    fake.newest.lose()
    vi.advanceTimersByTime(500)
    fake.newest.lose()
    vi.advanceTimersByTime(999)
    expect(fake.sockets).toHaveLength(2)
    vi.advanceTimersByTime(1)
    expect(fake.sockets).toHaveLength(3)
    fake.newest.open()
    fake.newest.receive({ type: 'welcome' })
    fake.newest.lose()
    vi.advanceTimersByTime(500)
    expect(fake.sockets).toHaveLength(4)
  })

  test('a server that accepts and drops at once is not asked more often', () => {
    const { fake } = connected()
    for (let k = 0; k < 3; k++) {
      fake.newest.open()
      fake.newest.lose()
      vi.advanceTimersByTime(500 * 2 ** k)
    }
    expect(fake.sockets).toHaveLength(4)
  })

  test('events of an older connection change nothing', () => {
    const { fake, seen, socket } = connected()
    const old = fake.newest
    old.lose()
    socket.retryNow()
    fake.newest.open()
    old.lose()
    old.receive({ type: 'late' })
    expect(socket.isOpen).toBe(true)
    expect(seen.messages).toEqual([])
  })

  test('a refusal for good is not tried again', () => {
    const { fake, seen } = connected()
    fake.newest.open()
    fake.newest.lose(1008, 'No such session')
    vi.advanceTimersByTime(60_000)
    expect(fake.sockets).toHaveLength(1)
    expect(seen.refused).toEqual([1008])
  })

  test('a connection that answers nothing for two pings is given up', () => {
    const { fake, seen } = connected()
    fake.newest.open()
    vi.advanceTimersByTime(5000)
    expect(fake.newest.sent).toMatchObject([{ type: 'ping' }])
    vi.advanceTimersByTime(5000)
    expect(seen.status.at(-1)).toBe('waiting to reconnect')
    vi.advanceTimersByTime(500)
    expect(fake.sockets).toHaveLength(2)
  })

  test('closed by its owner it stays closed', () => {
    const { fake, socket } = connected()
    fake.newest.open()
    socket.close()
    socket.retryNow()
    vi.advanceTimersByTime(60_000)
    expect(fake.sockets).toHaveLength(1)
    expect(socket.send({ type: 'ping' })).toBe(false)
  })

  test('the delay is drawn from zero to a limit that doubles up to 15 s', () => {
    expect([0, 1, 2, 10, 50].map((attempt) => reconnectDelayMs(attempt, () => 1))).toEqual([
      500, 1000, 2000, 15_000, 15_000,
    ])
    expect(reconnectDelayMs(5, () => 0)).toBe(0)
  })
})
