import { describe, expect, test, vi } from 'vitest'
import { decodeFrame, encodeFrame } from '#protocol/frames'
import { LiveSender } from '../../dashboard/lib/live-sender.ts'
import { fakeSockets } from './fakes/fake-socket.ts'

function sending() {
  const fake = fakeSockets()
  const handlers = {
    onStatus: vi.fn(),
    onStored: vi.fn(),
    onMarkStored: vi.fn(),
    onMark: vi.fn(),
    onFinished: vi.fn(),
    onRefused: vi.fn(),
  }
  const stream = { session: 's', stream: 'x', rateHz: 100, channels: 3 as const, startedAtUs: 0 }
  const sender = new LiveSender('ws://test/', stream, handlers, { create: fake.create, random: () => 0 })
  sender.start()
  fake.newest.open()
  return { fake, handlers, sender }
}

const welcome = (nextIndex: number) => ({
  type: 'welcome',
  protocol: 1,
  stream: 'x',
  nextIndex,
  serverTimeUs: 0,
})
const ack = (nextIndex: number) => ({ type: 'ack', stream: 'x', nextIndex })

const frame = (firstIndex: number, count = 10) => ({
  firstIndex,
  count,
  bytes: encodeFrame({
    firstIndex,
    count,
    channels: 3,
    encoding: 'float32',
    arrivedAtUs: 0,
    values: [0, 1, 2].map(() => new Float64Array(count)),
  }),
})

const framesOf = (sent: unknown[]) =>
  sent.filter((item) => item instanceof Uint8Array).map((bytes) => decodeFrame(bytes))

describe('live sender', () => {
  test('says hello first and sends samples only once it is welcome', () => {
    const { fake, sender } = sending()
    sender.push(frame(0))
    expect(fake.newest.sent).toMatchObject([{ type: 'hello', protocol: 1, session: 's', stream: 'x' }])
    fake.newest.receive(welcome(0))
    expect(framesOf(fake.newest.sent).map((sent) => sent.firstIndex)).toEqual([0])
  })

  test('a sign-in that ended does not end the stream: it goes on after signing in, without a gap', () => {
    const { fake, handlers, sender } = sending()
    fake.newest.receive(welcome(0))
    sender.push(frame(0))
    fake.newest.receive({ type: 'error', code: 'SIGN_IN_FIRST', message: 'Sign in first.', fatal: true })
    fake.newest.lose(1008, 'SIGN_IN_FIRST')
    expect(handlers.onRefused).not.toHaveBeenCalled()
    expect(handlers.onStatus).toHaveBeenLastCalledWith('waiting to reconnect')
    sender.push(frame(10))
    sender.retryNow()
    fake.newest.open()
    fake.newest.receive(welcome(0))
    expect(framesOf(fake.newest.sent).map((sent) => sent.firstIndex)).toEqual([0, 10])
    // Whoever signed in may not record for this dog: that is final, and said.
    fake.newest.receive({ type: 'error', code: 'ROLE_TOO_LOW', message: 'Not for readers.', fatal: true })
    fake.newest.lose(1008, 'ROLE_TOO_LOW')
    expect(handlers.onRefused).toHaveBeenCalledWith('Not for readers.', 'ROLE_TOO_LOW')
    sender.close()
  })

  test('sends again after a reconnect what was not acknowledged, and nothing else', async () => {
    const { fake, sender } = sending()
    fake.newest.receive(welcome(0))
    for (let k = 0; k < 4; k++) sender.push(frame(10 * k))
    fake.newest.receive(ack(20))
    fake.newest.lose()
    sender.push(frame(40))
    sender.retryNow()
    fake.newest.open()
    fake.newest.receive(welcome(20))
    expect(framesOf(fake.newest.sent).map((sent) => sent.firstIndex)).toEqual([20, 30, 40])
    sender.close()
  })

  test('a jump of the index is told as a lost frame in its place', () => {
    const { fake, sender } = sending()
    fake.newest.receive(welcome(0))
    sender.push(frame(0))
    sender.push(frame(25))
    const sent = framesOf(fake.newest.sent)
    expect(sent.map(({ encoding, firstIndex, count }) => [encoding, firstIndex, count])).toEqual([
      ['float32', 0, 10],
      ['lost', 10, 15],
      ['float32', 25, 10],
    ])
  })

  test('sends finish only when everything is acknowledged', () => {
    const { fake, handlers, sender } = sending()
    fake.newest.receive(welcome(0))
    sender.push(frame(0))
    sender.finish()
    expect(fake.newest.sent).not.toContainEqual(expect.objectContaining({ type: 'finish' }))
    fake.newest.receive(ack(10))
    expect(fake.newest.sent.at(-1)).toEqual({ type: 'finish', stream: 'x', nextIndex: 10 })
    fake.newest.receive({ type: 'finished', session: 's', stream: 'x', samples: 10 })
    expect(handlers.onFinished).toHaveBeenCalledOnce()
  })

  test('a mark without confirmation is sent again with the same id', () => {
    const { fake, sender } = sending()
    fake.newest.receive(welcome(0))
    sender.mark({ type: 'mark', id: 'm', kind: 'support-off', atS: 3 })
    const [first] = fake.newest.sent.filter((item) => (item as { type?: string }).type === 'mark')
    fake.newest.lose()
    sender.retryNow()
    fake.newest.open()
    fake.newest.receive(welcome(0))
    expect(fake.newest.sent).toContainEqual(first)
    sender.close()
  })

  test('keeps at most 64 frames under way', () => {
    const { fake, sender } = sending()
    fake.newest.receive(welcome(0))
    for (let k = 0; k < 80; k++) sender.push(frame(10 * k))
    expect(framesOf(fake.newest.sent)).toHaveLength(64)
    fake.newest.receive(ack(100))
    expect(framesOf(fake.newest.sent)).toHaveLength(74)
  })

  test('keeps frames back while the browser has much unsent', () => {
    const { fake, sender } = sending()
    fake.newest.receive(welcome(0))
    fake.newest.bufferedAmount = 300 * 1024
    sender.push(frame(0))
    expect(framesOf(fake.newest.sent)).toHaveLength(0)
  })

  test('a failure of the server is tried again, a refusal is told with its message', () => {
    vi.useFakeTimers()
    const { fake, handlers } = sending()
    fake.newest.receive({ type: 'error', code: 'STORE_FAILED', message: 'full', fatal: true })
    fake.newest.lose(1011)
    vi.advanceTimersByTime(1000)
    expect(fake.sockets).toHaveLength(2)
    fake.newest.open()
    fake.newest.receive({ type: 'error', code: 'SESSION_FINISHED', message: 'It is finished.', fatal: true })
    fake.newest.lose(1008, 'finished')
    expect(handlers.onRefused).toHaveBeenCalledWith('It is finished.', 'SESSION_FINISHED')
    vi.useRealTimers()
  })
})
