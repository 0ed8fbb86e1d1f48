import { describe, expect, it } from 'vitest'
import type { ServerToViewer } from '#protocol/messages'
import { Channel } from '#server/live/channel'
import { Viewer } from '#server/live/viewer'
import { addLiveSession, call, listeningApp } from '../helpers/build-app.ts'
import { frame, LiveClient, STREAM, welcomedSender } from '../helpers/live-client.ts'
import { sessionTrace } from '../helpers/session-trace.ts'

const { acc, marks } = sessionTrace()
const VALUES = [acc.x, acc.y, acc.z]

const watch = (wsUrl: string, session: string) =>
  new LiveClient<ServerToViewer>(`${wsUrl}/api/live/watch?session=${session}`).opened()

describe('/api/live/watch', () => {
  it('shows two viewers the same windows, marks and end', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    const viewers = [await watch(wsUrl, session), await watch(wsUrl, session)]
    for (const viewer of viewers) await viewer.next('snapshot')
    sender.send({ type: 'mark', id: 'm', atS: 1, kind: 'support-off' })
    // Real time, ten packets a second, for long enough to see windows one by one.
    for (let i = 0; i < 300; i += 10) {
      sender.socket.send(frame(i, 10, VALUES))
      await new Promise((resolve) => setTimeout(resolve, 60))
    }
    sender.send({ type: 'finish', stream: STREAM, nextIndex: 300 })
    for (const viewer of viewers) expect((await viewer.closed).code).toBe(1000)
    const shown = viewers.map((viewer) => viewer.received.filter(({ type }) => type !== 'snapshot'))
    expect(shown[0]).toEqual(shown[1])
    const windows = viewers[0].all('window').map(({ window }) => window.index)
    // The newest 1 s window ten times a second: 3 s of signal end with windows 0 to 20.
    expect(windows).toEqual(Array.from({ length: 21 }, (_, i) => i))
    expect(viewers[0].all('mark')).toHaveLength(1)
    expect(viewers[0].all('ended')).toEqual([{ type: 'ended', session }])
  })

  it('gives one that joins late the session so far', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    for (const [i, { atS, kind }] of marks.entries()) sender.send({ type: 'mark', id: `m${i}`, atS, kind })
    const count = 2800
    for (let i = 0; i < count; i += 100) sender.socket.send(frame(i, 100, VALUES))
    await sender.next('ack', (ack) => ack.nextIndex === count)
    const snapshot = await (await watch(wsUrl, session)).next('snapshot')
    expect(snapshot).toMatchObject({ session, dogName: 'Juniper', rateHz: 100, receivedS: 28 })
    expect(snapshot.marks).toHaveLength(marks.length)
    expect(snapshot.reference).not.toBeNull()
    expect(snapshot.holds.length).toBeGreaterThan(0)
    expect(snapshot.window?.endS).toBeCloseTo(28, 6)
    expect(snapshot.history.map(([endS]) => Math.round(endS))).toEqual(
      Array.from({ length: 28 }, (_, i) => i + 1),
    )
    const strip = snapshot.strips.at(-1)!
    expect(strip.fromS + strip.ml.length * strip.stepS).toBeCloseTo(28, 6)
  })

  it('catches viewers up with snapshots when a backlog comes, instead of flooding them', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    const viewer = await watch(wsUrl, session)
    await viewer.next('snapshot')
    for (let i = 0; i < 3000; i += 10) sender.socket.send(frame(i, 10, VALUES))
    await sender.next('ack', (ack) => ack.nextIndex === 3000)
    await viewer.next('snapshot', ({ receivedS }) => receivedS > 25)
    expect(viewer.all('window').length + viewer.all('snapshot').length).toBeLessThan(60)
  })

  it('tells the end to one that comes while the analysis waits for its samples', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    // As it is left when InfluxDB is away: nothing is running that would end it.
    await app.store.records.updateSession(session, { state: 'analysing' })
    const viewer = await watch(wsUrl, session)
    await viewer.next('ended')
    expect((await viewer.closed).code).toBe(1000)
  })

  it('tells the end once to one that comes as the session ends', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    for (let i = 0; i < 2800; i += 100) sender.socket.send(frame(i, 100, VALUES))
    await sender.next('ack', (ack) => ack.nextIndex === 2800)
    sender.send({ type: 'finish', stream: STREAM, nextIndex: 2800 })
    const viewer = await watch(wsUrl, session)
    await viewer.closed
    expect(viewer.all('ended')).toHaveLength(1)
  })

  it('says whether the sender is there', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const viewer = await watch(wsUrl, session)
    expect(await viewer.next('sender')).toMatchObject({ connected: false })
    const { sender } = await welcomedSender(wsUrl, session)
    await viewer.next('sender', ({ connected }) => connected)
    await viewer.next('snapshot')
    sender.socket.terminate()
    await expect.poll(() => viewer.all('sender').at(-1)?.connected).toBe(false)
  })

  it('takes marks from viewers once, and shows them to all', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    await welcomedSender(wsUrl, session)
    const [one, two] = [await watch(wsUrl, session), await watch(wsUrl, session)]
    await two.next('snapshot')
    const mark = { type: 'mark', id: 'tap', atS: 2, kind: 'support-on', note: 'slipped' }
    one.send(mark)
    one.send(mark)
    await expect.poll(() => one.all('marked')).toHaveLength(2)
    expect((await two.next('mark')).mark).toEqual({ id: 'tap', atS: 2, kind: 'support-on', note: 'slipped' })
    expect(two.all('mark')).toHaveLength(1)
    // Removed again: everyone gets the session as it is without it.
    await call(app, { method: 'DELETE', url: `/api/sessions/${session}/marks/tap` })
    await expect.poll(() => two.all('snapshot').at(-1)?.marks).toEqual([])
  })

  it('refuses samples, nonsense and floods from viewers', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const samples = await watch(wsUrl, session)
    samples.socket.send(frame(0, 10))
    expect((await samples.closed).code).toBe(1008)
    const nonsense = await watch(wsUrl, session)
    nonsense.send('{')
    expect((await nonsense.closed).code).toBe(1007)
    const flood = await watch(wsUrl, session)
    for (let i = 0; i < 200; i++) flood.send({ type: 'ping', sentAtUs: i })
    expect((await flood.closed).code).toBe(1008)
    expect(flood.all('error').at(-1)).toMatchObject({ code: 'TOO_MANY_MESSAGES' })
    expect((await (await watch(wsUrl, 'nobody')).closed).code).toBe(1008)
  })

  it('ends at once for a session that is finished', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    sender.socket.send(frame(0, 500, VALUES))
    sender.send({ type: 'finish', stream: STREAM, nextIndex: 500 })
    await sender.next('finished')
    const viewer = await watch(wsUrl, session)
    expect((await viewer.closed).code).toBe(1000)
    expect(viewer.received).toEqual([{ type: 'ended', session }])
  })
})

describe('a slow viewer', () => {
  it('gets nothing while too much is unsent, then the session so far, and never holds others up', () => {
    const sent: string[] = []
    const slow = { bufferedAmount: 0, send: (text: string) => void sent.push(text), close: () => undefined }
    const fastSent: string[] = []
    const fast = {
      bufferedAmount: 0,
      send: (text: string) => void fastSent.push(text),
      close: () => undefined,
    }
    const channel = new Channel()
    channel.viewers.add(new Viewer(slow, 1000)).add(new Viewer(fast, 1000))
    channel.picture = () => ({ type: 'snapshot' }) as never
    const typesOf = (texts: string[]) => texts.map((text) => JSON.parse(text).type)

    slow.bufferedAmount = 1001
    for (let i = 0; i < 10_000; i++) channel.sender(i % 2 === 0)
    expect(sent).toEqual([])
    expect(fastSent).toHaveLength(10_000)
    slow.bufferedAmount = 0
    channel.sender(true)
    channel.sender(false)
    expect(typesOf(sent)).toEqual(['snapshot', 'sender'])
  })
})
