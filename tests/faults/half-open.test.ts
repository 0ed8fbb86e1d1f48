import { describe, expect, it, onTestFinished } from 'vitest'
import { addLiveSession, listeningApp } from '../helpers/build-app.ts'
import { LiveClient } from '../helpers/live-client.ts'
import { SteadySender } from './steady-sender.ts'
import { expectStored } from './stored-truth.ts'
import { swallowingProxy } from './swallowing-proxy.ts'

const POLL = { timeout: 30_000, interval: 5 }
const limits = { heartbeatMs: 150 }

describe('a line that goes dead without a word', () => {
  it.each([
    ['both directions', { toServer: true, toClient: true }],
    ['what the sender sends', { toServer: true, toClient: false }],
    ['what the server answers', { toServer: false, toClient: true }],
  ])('swallowing %s: the server lets go, the sender comes back, nothing is lost', async (_, directions) => {
    const { app, url } = await listeningApp({ limits })
    const session = await addLiveSession(app)
    const proxy = await swallowingProxy(url)
    const { host } = new URL(url)
    const sender = new SteadySender({ wsUrl: () => proxy.wsUrl, host, session, seed: 1, deadAfterMs: 500 })
    onTestFinished(() => sender.stop())
    const running = sender.run()
    for (let cut = 1; cut <= 3; cut++) {
      const before = sender.acknowledged
      await expect.poll(() => sender.acknowledged, POLL).toBeGreaterThan(before + 500)
      proxy.swallow(directions)
      await expect.poll(() => proxy.connections, POLL).toBeGreaterThan(cut)
    }
    await expect.poll(() => sender.answers, POLL).toBeGreaterThan(2)
    // Those that went dead are not kept.
    await expect.poll(() => app.websocketServer.clients.size, POLL).toBe(1)
    const total = sender.end()
    await running
    expect(sender.problems).toEqual([])
    expect(sender.finished).toEqual({ samples: total })
    await expectStored(app.store, 1, total)
  })

  it('lets go of a viewer that cannot be reached any more', async () => {
    const { app, url } = await listeningApp({ limits })
    const session = await addLiveSession(app)
    const proxy = await swallowingProxy(url)
    const headers = { host: new URL(url).host }
    const watchUrl = `${proxy.wsUrl}/api/live/watch?session=${session}`
    const viewer = await new LiveClient(watchUrl, { headers }).opened()
    await viewer.next('sender')
    const { viewers } = app.hub.channel(session)
    expect(viewers.size).toBe(1)
    proxy.swallow({ toServer: true, toClient: true })
    await expect.poll(() => viewers.size, POLL).toBe(0)
    expect(app.websocketServer.clients.size).toBe(0)
  })

  it('keeps a quiet peer that answers pings', async () => {
    const { app, wsUrl } = await listeningApp({ limits: { heartbeatMs: 20 } })
    const session = await addLiveSession(app)
    const viewer = await new LiveClient(`${wsUrl}/api/live/watch?session=${session}`).opened()
    let pings = 0
    viewer.socket.on('ping', () => pings++)
    await expect.poll(() => pings, POLL).toBeGreaterThan(10)
    viewer.send({ type: 'ping', sentAtUs: 17 })
    expect(await viewer.next('pong')).toMatchObject({ sentAtUs: 17, serverTimeUs: expect.any(Number) })
  })
})
