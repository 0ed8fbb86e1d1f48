import { describe, expect, it } from 'vitest'
import type { ServerToViewer } from '#protocol/messages'
import type { AuditEntry } from '#protocol/diary'
import type { SessionSummary } from '#protocol/resources'
import type { App } from '#server/app'
import { addDog, addLiveSession, call, listeningApp, temporaryDir, testApp } from '../helpers/build-app.ts'
import { frame, LiveClient, STREAM, testSample, welcomedSender } from '../helpers/live-client.ts'
import { storedSamples } from '../helpers/stored-samples.ts'
import { sessionTrace } from '../helpers/session-trace.ts'
import { upload } from '../helpers/upload.ts'
import { formatTraceCsv } from '#signal/trace/format'

const finish = (app: App, session: string) =>
  call(app, { method: 'POST', url: `/api/sessions/${session}/finish` })

const watching = async (wsUrl: string, session: string) => {
  const viewer = new LiveClient<ServerToViewer>(`${wsUrl}/api/live/watch?session=${session}`)
  await viewer.next('sender')
  return viewer
}

const actions = async (app: App, session: string) => {
  const { dogId } = (await call(app, { url: `/api/sessions/${session}` })).json<SessionSummary>()
  const { entries } = (await call(app, { url: `/api/dogs/${dogId}/audit` })).json<{ entries: AuditEntry[] }>()
  return entries.map(({ action }) => action)
}

describe('POST /api/sessions/:sessionId/finish', () => {
  it('is in the audit trail, with samples and without; the end that a sender gives is not', async () => {
    const { app, wsUrl } = await listeningApp()
    const [cut, empty, own] = [
      await addLiveSession(app),
      await addLiveSession(app),
      await addLiveSession(app),
    ]
    const { sender } = await welcomedSender(wsUrl, cut)
    sender.socket.send(frame(0, 100))
    await sender.next('ack', (ack) => ack.nextIndex === 100)
    for (const session of [cut, empty]) {
      expect((await finish(app, session)).statusCode).toBe(200)
      expect((await finish(app, session)).statusCode).toBe(409)
      expect(await actions(app, session)).toEqual(['session.finished', 'session.created', 'dog.created'])
    }
    const stream = 'stream-of-its-own'
    const other = await welcomedSender(wsUrl, own, { stream })
    other.sender.send({ type: 'finish', stream, nextIndex: 0 })
    await other.sender.next('finished')
    expect(await actions(app, own)).toEqual(['session.created', 'dog.created'])
  })

  it('ends a recording whose sender is gone at what is stored, analysed when it answers', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    for (let i = 0; i < 1000; i += 100) sender.socket.send(frame(i, 100))
    await sender.next('ack', (ack) => ack.nextIndex === 1000)
    const viewer = await watching(wsUrl, session)
    sender.socket.terminate()
    await viewer.next('sender', ({ connected }) => !connected)

    const response = await finish(app, session)
    expect(response.statusCode).toBe(200)
    expect(response.json()).toMatchObject({ id: session, state: 'finished', durationS: 10, problem: null })
    expect((await call(app, { url: `/api/sessions/${session}/report` })).statusCode).toBe(200)
    expect(await viewer.closed).toMatchObject({ code: 1000 })
    expect(viewer.all('ended')).toEqual([{ type: 'ended', session }])
  })

  it('stores what is on its way, tells a connected sender with 1008, and takes nothing more', async () => {
    const { app, wsUrl } = await listeningApp({ limits: { commitMs: 50 } })
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    const viewer = await watching(wsUrl, session)
    for (let i = 0; i < 1000; i += 100) sender.socket.send(frame(i, 100))
    // Answered once the frames before it were taken, which is before they are on the disk.
    sender.send({ type: 'ping', sentAtUs: 1 })
    await sender.next('pong')
    expect((await finish(app, session)).json()).toMatchObject({ state: 'finished', durationS: 10 })
    expect(await sender.closed).toMatchObject({ code: 1008 })
    expect(sender.all('error')).toMatchObject([{ code: 'SESSION_FINISHED', fatal: true }])
    await viewer.closed
    expect(viewer.all('ended')).toHaveLength(1)
    const truth = Array.from({ length: 1000 }, (_, i) => [i, ...testSample(i)])
    expect(await storedSamples(app.store, STREAM)).toEqual(truth)

    // A sender that comes back learns what is stored, and that the session takes no more.
    const again = await welcomedSender(wsUrl, session)
    expect(again.nextIndex).toBe(1000)
    again.sender.socket.send(frame(1000, 100))
    expect(await again.sender.closed).toMatchObject({ code: 1008 })
    expect(again.sender.all('error')).toMatchObject([{ code: 'SESSION_FINISHED', fatal: true }])
    expect(await storedSamples(app.store, STREAM)).toEqual(truth)
  })

  it('acknowledges what a sender repeats after its end although it takes nothing more', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    sender.socket.send(frame(0, 100))
    sender.send({ type: 'finish', stream: STREAM, nextIndex: 100 })
    await sender.next('finished')
    // It never heard the last acknowledgements, nor that it has finished.
    const again = await welcomedSender(wsUrl, session)
    expect(again.nextIndex).toBe(100)
    again.sender.socket.send(frame(50, 50))
    expect(await again.sender.next('ack')).toMatchObject({ nextIndex: 100 })
    again.sender.send({ type: 'finish', stream: STREAM, nextIndex: 100 })
    expect(await again.sender.next('finished')).toMatchObject({ samples: 100 })
    expect(again.sender.all('error')).toEqual([])
    again.sender.socket.send(frame(90, 20))
    expect(await again.sender.closed).toMatchObject({ code: 1008 })
    expect(await storedSamples(app.store, STREAM)).toHaveLength(100)
  })

  it('finishes once when asked twice at once, and says 409 to who asks later', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    sender.socket.send(frame(0, 500))
    await sender.next('ack')
    const both = await Promise.all([finish(app, session), finish(app, session)])
    // The later of the two may come when the analysis is under way already.
    expect(both.map(({ statusCode }) => statusCode)).toContain(200)
    for (const { statusCode } of both) expect([200, 409]).toContain(statusCode)
    const late = await finish(app, session)
    expect(late.statusCode).toBe(409)
    expect(late.json()).toMatchObject({ code: 'SESSION_NOT_RECORDING' })
    expect(late.json().detail).toContain('finished already')
  })

  it('leaves a sender that finishes at the same time with an answer', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    sender.socket.send(frame(0, 500))
    sender.send({ type: 'finish', stream: STREAM, nextIndex: 500 })
    const { statusCode } = await finish(app, session)
    expect([200, 409]).toContain(statusCode)
    await expect
      .poll(async () => (await call(app, { url: `/api/sessions/${session}` })).json())
      .toMatchObject({ state: expect.stringMatching(/^(finished|failed)$/) })
    await expect
      .poll(() => sender.all('finished').length + sender.all('error').filter(({ fatal }) => fatal).length)
      .toBe(1)
  })

  it.each([
    ['nothing said hello', async () => {}],
    [
      'a sender said hello and sent nothing',
      async (wsUrl: string, session: string) => void (await welcomedSender(wsUrl, session)),
    ],
  ])('makes a session without samples `failed` with its problem: %s', async (_, prepare) => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    await prepare(wsUrl, session)
    const viewer = await watching(wsUrl, session)
    const response = await finish(app, session)
    expect(response.statusCode).toBe(200)
    expect(response.json()).toMatchObject({ state: 'failed', problem: 'No samples arrived.' })
    await viewer.closed
    expect(viewer.all('ended')).toHaveLength(1)
    expect((await finish(app, session)).json().detail).toContain('failed already')
  })

  it('makes a session that is too short to be measured `failed` with the reason', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    sender.socket.send(frame(0, 2))
    await sender.next('ack')
    const { state, problem } = (await finish(app, session)).json<SessionSummary>()
    expect(state).toBe('failed')
    expect(problem).toMatch(/\S/)
  })

  it('finishes a recording that a server stopped in the middle of, without its sender', async () => {
    const dataDir = await temporaryDir()
    const first = await listeningApp({ dataDir })
    const session = await addLiveSession(first.app)
    const { sender } = await welcomedSender(first.wsUrl, session)
    sender.socket.send(frame(0, 800))
    await sender.next('ack', (ack) => ack.nextIndex === 800)
    await first.app.close()
    const second = await listeningApp({ dataDir })
    expect((await finish(second.app, session)).json()).toMatchObject({ state: 'finished', durationS: 8 })
  })

  it('leaves marks that can be read, set and removed as in any finished session', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    sender.socket.send(frame(0, 800))
    sender.send({ type: 'mark', id: 'live', atS: 1, kind: 'support-off' })
    await sender.next('marked')
    await finish(app, session)
    const url = `/api/sessions/${session}/marks`
    const payload = { id: 'later', atS: 2, kind: 'note', note: 'wagged' }
    expect((await call(app, { method: 'POST', url, payload })).statusCode).toBe(201)
    const beyond = { id: 'beyond', atS: 9, kind: 'note' }
    expect((await call(app, { method: 'POST', url, payload: beyond })).json()).toMatchObject({ status: 422 })
    const live = { id: 'live', atS: 1, kind: 'support-off', note: null }
    expect((await call(app, { url })).json()).toEqual([live, payload])
    expect((await call(app, { method: 'DELETE', url: `${url}/later` })).statusCode).toBe(204)
    expect((await call(app, { url })).json()).toEqual([live])
    expect((await call(app, { url: `/api/sessions/${session}` })).json()).toMatchObject({ state: 'finished' })
  })

  it('refuses an upload and a session that is not there', async () => {
    const app = await testApp()
    const uploaded = await upload(app, await addDog(app), formatTraceCsv(sessionTrace()))
    expect((await finish(app, uploaded.json().id)).json()).toMatchObject({
      code: 'SESSION_NOT_RECORDING',
      status: 409,
    })
    expect((await finish(app, 'nothing')).json()).toMatchObject({ code: 'SESSION_NOT_FOUND', status: 404 })
  })
})

describe('GET /api/sessions', () => {
  it('says of a session being recorded whether its sender is connected, of others nothing', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const listed = async () => {
      const { sessions } = (await call(app, { url: '/api/sessions' })).json<{ sessions: SessionSummary[] }>()
      return sessions.find(({ id }) => id === session)
    }
    expect(await listed()).toMatchObject({ state: 'recording', senderConnected: false })
    const { sender } = await welcomedSender(wsUrl, session)
    sender.socket.send(frame(0, 500))
    await sender.next('ack', (ack) => ack.nextIndex === 500)
    expect(await listed()).toMatchObject({ state: 'recording', senderConnected: true })
    const viewer = await watching(wsUrl, session)
    sender.socket.terminate()
    await viewer.next('sender', ({ connected }) => !connected)
    expect(await listed()).toMatchObject({ state: 'recording', senderConnected: false })
    await finish(app, session)
    expect(await listed()).not.toHaveProperty('senderConnected')
  })
})
