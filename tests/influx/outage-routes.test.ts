import type { AddressInfo } from 'node:net'
import { afterAll, beforeAll, describe, expect, it, onTestFinished, vi } from 'vitest'
import type { SessionSummary } from '#protocol/resources'
import { buildApp } from '#server/app'
import type { App } from '#server/app'
import { liveSession } from '../export/made-dog.ts'
import { addDog, addLiveSession, call, temporaryDir, testConfig } from '../helpers/build-app.ts'
import { InfluxProcess, newDatabase } from '../helpers/influx-server.ts'
import { hasInfluxd } from '../helpers/influxd.mjs'
import { LiveClient } from '../helpers/live-client.ts'
import { SteadySender } from '../faults/steady-sender.ts'

vi.setConfig({ testTimeout: 240_000 })
const POLL = { timeout: 60_000, interval: 50 }

describe.skipIf(!hasInfluxd())('the API while InfluxDB is away', () => {
  let influx: InfluxProcess
  beforeAll(async () => {
    influx = await InfluxProcess.start()
  })
  afterAll(() => influx.remove())

  /** A server on one data folder and database, which can be stopped and started again. */
  async function restartable() {
    const dataDir = await temporaryDir()
    const settings = await newDatabase(influx)
    let app: App | null = null
    const stop = async () => {
      await app?.close()
      app = null
    }
    onTestFinished(stop)
    const start = async () => {
      app = await buildApp(testConfig({ dataDir, influx: settings }))
      await app.listen({ host: '127.0.0.1', port: 0 })
      const { port } = app.server.address() as AddressInfo
      return { app, url: `http://127.0.0.1:${port}`, wsUrl: `ws://127.0.0.1:${port}` }
    }
    return { start, stop }
  }

  const session = async (app: App, id: string) =>
    (await call(app, { url: `/api/sessions/${id}` })).json<SessionSummary>()
  const allThere = (app: App) =>
    expect.poll(() => app.store.seriesStatus(), POLL).toMatchObject({ state: 'ok', waitingBlocks: 0 })

  it('what needs samples is refused in words and changes nothing, the rest goes on, and it passes by itself', async () => {
    const { app, url, wsUrl } = await (await restartable()).start()
    const dogId = await addDog(app)
    const id = await liveSession({ url, wsUrl }, dogId, { channels: 3, samples: 4000, lost: [] })
    await allThere(app)
    const [before, edits] = [await session(app, id), await call(app, { url: `/api/sessions/${id}/edits` })]
    await influx.kill()

    const etag = edits.headers.etag as string
    const refused = [
      { url: `/api/sessions/${id}/trace.csv` },
      { url: `/api/sessions/${id}/trace.edf` },
      { url: `/api/dogs/${dogId}/export.zip` },
      { method: 'POST', url: `/api/sessions/${id}/marks`, payload: { atS: 2, kind: 'note' } },
      { method: 'DELETE', url: `/api/sessions/${id}/marks/mark-1` },
      {
        method: 'PUT',
        url: `/api/sessions/${id}/edits`,
        payload: { marks: [], holds: [] },
        headers: { 'if-match': etag },
      },
      {
        method: 'PATCH',
        url: `/api/sessions/${id}`,
        payload: { mount: 'y=cranial,z=dorsal' },
        headers: { 'if-match': `"${before.version}"` },
      },
    ] as const
    for (const request of refused) {
      const answer = await call(app, request)
      expect(answer.json(), request.url).toMatchObject({
        status: 503,
        code: 'SERIES_UNAVAILABLE',
        detail: expect.stringMatching(/does not answer; nothing is lost\. Try again/),
      })
    }
    expect(await session(app, id)).toEqual(before)
    expect((await call(app, { url: `/api/sessions/${id}/edits` })).json()).toEqual(edits.json())
    for (const path of ['/report', '/timeline', '/unreadable', '/marks']) {
      expect((await call(app, { url: `/api/sessions/${id}${path}` })).statusCode, path).toBe(200)
    }
    const ready = await call(app, { url: '/api/ready' })
    expect(ready.statusCode).toBe(200)
    expect(ready.json()).toMatchObject({ warnings: [{ code: 'SERIES_SPILLING' }] })

    await influx.run()
    await allThere(app)
    for (const request of refused) {
      const answer = await call(app, request)
      expect(answer.statusCode, `${request.url}: ${answer.body.slice(0, 200)}`).toBeLessThan(413)
      expect(answer.statusCode, request.url).not.toBe(409)
    }
  })

  it('a recording that ends meanwhile is analysed when it is back, the server started anew in between as well', async () => {
    const server = await restartable()
    const first = await server.start()
    const id = await addLiveSession(first.app)
    const sender = new SteadySender({ wsUrl: () => first.wsUrl, session: id, seed: 1 })
    onTestFinished(() => sender.stop())
    const running = sender.run()
    await expect.poll(() => sender.acknowledged, POLL).toBeGreaterThan(1500)
    await allThere(first.app)
    await influx.kill()
    sender.end()
    await running
    expect(sender.problems).toEqual([])
    expect((await session(first.app, id)).state).toBe('analysing')
    await server.stop()

    const second = await server.start()
    await expect.poll(() => second.app.store.seriesStatus().state, POLL).toBe('spilling')
    expect((await session(second.app, id)).state).toBe('analysing')
    await influx.run()
    await expect.poll(async () => (await session(second.app, id)).state, POLL).toBe('finished')
    expect((await call(second.app, { url: `/api/sessions/${id}/report` })).statusCode).toBe(200)
  })

  it('the same where nothing waits to be written, so that only reading can tell that it is away', async () => {
    const server = await restartable()
    const first = await server.start()
    const id = await addLiveSession(first.app)
    const sender = new SteadySender({ wsUrl: () => first.wsUrl, session: id, seed: 1 })
    void sender.run()
    await expect.poll(() => sender.acknowledged, POLL).toBeGreaterThan(1500)
    sender.stop()
    await allThere(first.app)
    await influx.kill()
    await call(first.app, { method: 'POST', url: `/api/sessions/${id}/finish` })
    expect((await session(first.app, id)).state).toBe('analysing')
    await server.stop()

    const second = await server.start()
    await expect.poll(() => second.app.store.seriesStatus().state, POLL).toBe('spilling')
    await influx.run()
    await expect.poll(async () => (await session(second.app, id)).state, POLL).toBe('finished')
    expect((await call(second.app, { url: '/api/ready' })).json()).toMatchObject({
      ready: true,
      warnings: [],
    })
  })

  it('who watches a recording that goes on over both restarts sees all of it again when InfluxDB is back', async () => {
    const server = await restartable()
    let now = await server.start()
    const id = await addLiveSession(now.app)
    const sender = new SteadySender({ wsUrl: () => now.wsUrl, session: id, seed: 1 })
    onTestFinished(() => sender.stop())
    void sender.run()
    await expect.poll(() => sender.acknowledged, POLL).toBeGreaterThan(1500)
    await allThere(now.app)
    await influx.kill()
    await server.stop()
    now = await server.start()
    const reached = sender.acknowledged
    await expect.poll(() => sender.acknowledged, POLL).toBeGreaterThan(reached + 200)
    const viewer = await new LiveClient(`${now.wsUrl}/api/live/watch?session=${id}`).opened()
    await influx.run()
    const whole = await viewer.next('snapshot', ({ receivedS }) => receivedS > reached / 100)
    // From its first seconds on, one figure a second.
    expect(whole.history[0][0]).toBeLessThan(5)
    expect(whole.history.length).toBeGreaterThan(reached / 100 - 5)
  })
})
