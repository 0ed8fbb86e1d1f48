import { describe, expect, it } from 'vitest'
import type { App } from '#server/app'
import { addLiveSession, call, listeningApp } from '../helpers/build-app.ts'
import {
  frame,
  helloMessage,
  LiveClient,
  lostFrame,
  STREAM,
  testSample,
  welcomedSender,
} from '../helpers/live-client.ts'
import { storedSamples } from '../helpers/stored-samples.ts'

/** What a sender that sent samples [0, count) expects to be stored: each once, exactly. */
const truth = (count: number) => Array.from({ length: count }, (_, i) => [i, ...testSample(i)])

describe('/api/live/send', () => {
  it('acknowledges samples once they are stored', async () => {
    const { app, wsUrl } = await listeningApp()
    const { sender, nextIndex } = await welcomedSender(wsUrl, await addLiveSession(app))
    expect(nextIndex).toBe(0)
    sender.socket.send(frame(0, 10))
    sender.socket.send(frame(10, 10))
    await sender.next('ack', (ack) => ack.nextIndex === 20)
    expect(await storedSamples(app.store, STREAM)).toEqual(truth(20))
  })

  it('never acknowledges before the commit', async () => {
    const { app, wsUrl } = await listeningApp()
    const { sender } = await welcomedSender(wsUrl, await addLiveSession(app))
    const { series } = app.store
    const append = series.appendSamples.bind(series)
    let commit = () => {}
    const held = new Promise<void>((resolve) => (commit = resolve))
    series.appendSamples = async (...args) => {
      const nextIndex = await append(...args)
      await held
      return nextIndex
    }
    sender.socket.send(frame(0, 10))
    sender.send({ type: 'ping', sentAtUs: 1 })
    await sender.next('pong')
    expect(sender.all('ack')).toEqual([])
    commit()
    await sender.next('ack', (ack) => ack.nextIndex === 10)
  })

  it('goes on after a cut before the acknowledgement: the sender repeats what it does not know of', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    for (let i = 0; i < 50; i += 10) sender.socket.send(frame(i, 10))
    // The cut comes with frames in flight and no acknowledgement read.
    await new Promise<void>((resolve) => sender.socket.send(frame(50, 10), () => resolve()))
    sender.socket.terminate()
    const again = await welcomedSender(wsUrl, session)
    expect(again.nextIndex % 10).toBe(0)
    for (let i = 0; i < 100; i += 10) again.sender.socket.send(frame(i, 10))
    await again.sender.next('ack', (ack) => ack.nextIndex === 100)
    expect(await storedSamples(app.store, STREAM)).toEqual(truth(100))
  })

  it('goes on after a cut after the acknowledgement where the server says', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    sender.socket.send(frame(0, 25))
    await sender.next('ack', (ack) => ack.nextIndex === 25)
    sender.socket.terminate()
    const again = await welcomedSender(wsUrl, session)
    expect(again.nextIndex).toBe(25)
    again.sender.socket.send(frame(25, 25))
    await again.sender.next('ack', (ack) => ack.nextIndex === 50)
    expect(await storedSamples(app.store, STREAM)).toEqual(truth(50))
  })

  it('takes repeated and overlapping frames once and acknowledges them again', async () => {
    const { app, wsUrl } = await listeningApp()
    const { sender } = await welcomedSender(wsUrl, await addLiveSession(app))
    for (const [from, count] of [
      [0, 10],
      [0, 10],
      [5, 10],
      [3, 4],
      [10, 10],
    ]) {
      sender.socket.send(frame(from, count))
    }
    await sender.next('ack', (ack) => ack.nextIndex === 20)
    expect(await storedSamples(app.store, STREAM)).toEqual(truth(20))
    const before = sender.all('ack').length
    sender.socket.send(frame(0, 10))
    sender.send({ type: 'mark', id: 'm', atS: 0, kind: 'note' })
    await sender.next('marked')
    await expect.poll(() => sender.all('ack').length).toBeGreaterThan(before)
    expect(sender.all('ack').at(-1)).toMatchObject({ nextIndex: 20 })
  })

  it('answers a gap by naming the missing index, and goes on', async () => {
    const { app, wsUrl } = await listeningApp()
    const { sender } = await welcomedSender(wsUrl, await addLiveSession(app))
    sender.socket.send(frame(0, 10))
    sender.socket.send(frame(20, 10))
    const error = await sender.next('error')
    expect(error).toMatchObject({ code: 'FRAME_GAP', fatal: false })
    expect(error.message).toContain('Sample 10 is missing')
    sender.socket.send(frame(10, 10))
    sender.socket.send(frame(20, 10))
    await sender.next('ack', (ack) => ack.nextIndex === 30)
    expect(await storedSamples(app.store, STREAM)).toEqual(truth(30))
  })

  it('keeps lost samples as lost', async () => {
    const { app, wsUrl } = await listeningApp()
    const { sender } = await welcomedSender(wsUrl, await addLiveSession(app))
    sender.socket.send(frame(0, 10))
    sender.socket.send(lostFrame(10, 10))
    sender.socket.send(frame(20, 10))
    await sender.next('ack', (ack) => ack.nextIndex === 30)
    expect(await app.store.series.lostRanges(STREAM)).toEqual([{ firstIndex: 10, count: 10 }])
    expect(await storedSamples(app.store, STREAM)).toEqual(truth(30).filter(([i]) => i < 10 || i >= 20))
  })

  it('refuses a lost frame that would make a stream of years', async () => {
    const { app, wsUrl } = await listeningApp()
    const { sender } = await welcomedSender(wsUrl, await addLiveSession(app))
    sender.socket.send(lostFrame(0, 2 ** 32 - 1))
    expect(await sender.closed).toMatchObject({ code: 1007 })
  })

  it('hands the stream to the newest connection and tells the older one', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const old = await welcomedSender(wsUrl, session)
    old.sender.socket.send(frame(0, 10))
    const young = await welcomedSender(wsUrl, session)
    expect(await old.sender.closed).toMatchObject({ code: 4409 })
    expect(old.sender.all('error').at(-1)).toMatchObject({ code: 'TAKEN_OVER', fatal: true })
    for (let i = young.nextIndex; i < 20; i += 10) young.sender.socket.send(frame(i, 10))
    await young.sender.next('ack', (ack) => ack.nextIndex === 20)
    expect(await storedSamples(app.store, STREAM)).toEqual(truth(20))
  })

  it('refuses another stream on a session, and a stream that changed its rate', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    await welcomedSender(wsUrl, session)
    for (const changes of [{ stream: 'stream-2' }, { rateHz: 50 }]) {
      const other = await new LiveClient(`${wsUrl}/api/live/send`).opened()
      other.send(helloMessage(session, changes))
      expect(await other.closed).toMatchObject({ code: 1008 })
      expect(other.all('error').at(-1)).toMatchObject({ code: 'STREAM_MISMATCH' })
    }
  })

  it('finishes a session: all stored, analysed, and confirmed again when asked again', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    for (let i = 0; i < 1000; i += 100) sender.socket.send(frame(i, 100))
    sender.send({ type: 'finish', stream: STREAM, nextIndex: 1100 })
    expect(await sender.next('error')).toMatchObject({ code: 'FRAME_GAP', fatal: false })
    sender.send({ type: 'finish', stream: STREAM, nextIndex: 1000 })
    expect(await sender.next('finished')).toMatchObject({ session, stream: STREAM, samples: 1000 })
    const stored = (await call(app, { url: `/api/sessions/${session}` })).json()
    expect(stored).toMatchObject({ state: 'finished', durationS: 10 })
    sender.socket.terminate()

    // The confirmation may have been lost: hello and finish again give it again.
    const again = await welcomedSender(wsUrl, session)
    expect(again.nextIndex).toBe(1000)
    again.sender.send({ type: 'finish', stream: STREAM, nextIndex: 1000 })
    expect(await again.sender.next('finished')).toMatchObject({ samples: 1000 })
    again.sender.socket.send(frame(1000, 10))
    expect(await again.sender.closed).toMatchObject({ code: 1008 })
  })

  it('takes a mark once, whatever how often it is sent', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    const mark = { type: 'mark', id: 'm-1', atS: 1.5, kind: 'support-off' }
    sender.send(mark)
    sender.send(mark)
    await expect.poll(() => sender.all('marked')).toHaveLength(2)
    expect((await call(app, { url: `/api/sessions/${session}/marks` })).json()).toEqual([
      { id: 'm-1', atS: 1.5, kind: 'support-off', note: null },
    ])
  })

  it('keeps nothing acknowledged that the store refused: the sender is told to come back', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    const { series } = app.store
    const append = series.appendSamples.bind(series)
    series.appendSamples = () => Promise.reject(new Error('disk full'))
    sender.socket.send(frame(0, 10))
    expect(await sender.closed).toMatchObject({ code: 1011 })
    expect(sender.all('ack')).toEqual([])
    series.appendSamples = append
    const again = await welcomedSender(wsUrl, session)
    expect(again.nextIndex).toBe(0)
    again.sender.socket.send(frame(0, 10))
    await again.sender.next('ack', (ack) => ack.nextIndex === 10)
    expect(await storedSamples(app.store, STREAM)).toEqual(truth(10))
  })

  it('finishes a session whose sender stays away, and reopens it when the sender comes back', async () => {
    const { app, wsUrl } = await listeningApp({ limits: { abandonMs: 50 } })
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    for (let i = 0; i < 600; i += 100) sender.socket.send(frame(i, 100))
    await sender.next('ack', (ack) => ack.nextIndex === 600)
    sender.socket.terminate()
    await expect.poll(() => stateOf(app, session), { timeout: 10_000 }).toBe('finished')
    const again = await welcomedSender(wsUrl, session)
    expect(again.nextIndex).toBe(600)
    expect(await stateOf(app, session)).toBe('recording')
    again.sender.socket.send(frame(600, 100))
    again.sender.send({ type: 'finish', stream: STREAM, nextIndex: 700 })
    expect(await again.sender.next('finished')).toMatchObject({ samples: 700 })
    expect(await storedSamples(app.store, STREAM)).toEqual(truth(700))
  })

  it('tells the sender of a session that was deleted', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    await call(app, { method: 'DELETE', url: `/api/sessions/${session}` })
    expect(await sender.closed).toMatchObject({ code: 1008 })
    expect(sender.all('error').at(-1)).toMatchObject({ code: 'SESSION_DELETED' })
  })

  it('ends a sender that answers no ping', async () => {
    const { app, wsUrl } = await listeningApp({ limits: { heartbeatMs: 20 } })
    const session = await addLiveSession(app)
    const silent = await new LiveClient(`${wsUrl}/api/live/send`, { autoPong: false }).opened()
    silent.send(helloMessage(session))
    expect(await silent.closed).toMatchObject({ code: 1006 })
  })

  it('closes idle senders and says goodbye with 1001 when it stops', async () => {
    const { app, wsUrl } = await listeningApp({ limits: { senderIdleMs: 50 } })
    const idle = await new LiveClient(`${wsUrl}/api/live/send`).opened()
    expect(await idle.closed).toMatchObject({ code: 1000, reason: 'idle' })
    const other = await new LiveClient(`${wsUrl}/api/live/send`).opened()
    await app.close()
    expect(await other.closed).toMatchObject({ code: 1001 })
  })
})

async function stateOf(app: App, session: string): Promise<string> {
  return (await call(app, { url: `/api/sessions/${session}` })).json().state
}
