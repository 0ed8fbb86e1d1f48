import { describe, expect, it, onTestFinished } from 'vitest'
import type { ServerToViewer } from '#protocol/messages'
import { DEFAULT_LIMITS } from '#server/config'
import { addLiveSession, listeningApp } from '../helpers/build-app.ts'
import { LiveClient } from '../helpers/live-client.ts'
import { SteadySender } from './steady-sender.ts'
import { expectStored } from './stored-truth.ts'

const POLL = { timeout: 60_000, interval: 10 }

describe('many and slow viewers', () => {
  it('a viewer that never reads costs a bounded amount of memory, and the others go on', async () => {
    const { app, wsUrl } = await listeningApp({ limits: { requestsPerMinute: 100_000 } })
    const session = await addLiveSession(app)
    const url = `${wsUrl}/api/live/watch?session=${session}`
    const deaf = await new LiveClient<ServerToViewer>(url).opened()
    await deaf.next('sender')
    deaf.socket.pause()
    const reading = await new LiveClient<ServerToViewer>(url).opened()
    const sender = new SteadySender({ wsUrl: () => wsUrl, session, seed: 6 })
    onTestFinished(() => sender.stop())
    const running = sender.run()
    const unsent = () => Math.max(...[...app.websocketServer.clients].map((client) => client.bufferedAmount))
    // Marks go to every viewer: enough of them fill what the system buffers for the one that is deaf.
    const note = 'x'.repeat(500)
    let most = 0
    for (let i = 0; i < 20_000; i++) {
      app.hub.channel(session).broadcast({ type: 'mark', mark: { id: `m${i}`, atS: 0, kind: 'note', note } })
      most = Math.max(most, unsent())
      if (i % 200 === 0) await new Promise((resolve) => setTimeout(resolve, 1))
    }
    expect(most, 'the deaf viewer was never behind').toBeGreaterThan(DEFAULT_LIMITS.viewerBufferBytes)
    // The limit, and what was begun before it was passed.
    expect(most).toBeLessThan(2 * DEFAULT_LIMITS.viewerBufferBytes)
    await expect.poll(() => reading.all('mark').length, POLL).toBeGreaterThan(10_000)
    await expect.poll(() => sender.acknowledged, POLL).toBeGreaterThan(1000)

    // Once it reads again it gets the session as it is.
    const seen = deaf.all('snapshot').length
    deaf.socket.resume()
    await expect.poll(() => deaf.all('snapshot').length, POLL).toBeGreaterThan(seen)
    const total = sender.end()
    await running
    await expectStored(app.store, 6, total)
  })

  it('two hundred viewers of one stream see its end, and one that joins late sees it as it is', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const url = `${wsUrl}/api/live/watch?session=${session}`
    const viewers = await Promise.all(
      Array.from({ length: 200 }, () => new LiveClient<ServerToViewer>(url).opened()),
    )
    const sender = new SteadySender({ wsUrl: () => wsUrl, session, seed: 7 })
    onTestFinished(() => sender.stop())
    const running = sender.run()
    for (const viewer of viewers) await viewer.next('snapshot', ({ receivedS }) => receivedS > 10)
    const late = await new LiveClient<ServerToViewer>(url).opened()
    const before = sender.acknowledged
    const snapshot = await late.next('snapshot')
    expect(snapshot.receivedS * 100).toBeGreaterThanOrEqual(before)
    expect(snapshot.history.length).toBeGreaterThanOrEqual(Math.floor(before / 100) - 1)
    const total = sender.end()
    await running
    for (const viewer of [...viewers, late]) {
      expect((await viewer.closed).code).toBe(1000)
      expect(viewer.all('ended')).toHaveLength(1)
    }
    expect(app.websocketServer.clients.size).toBeLessThanOrEqual(1)
    await expectStored(app.store, 7, total)
  })
})
