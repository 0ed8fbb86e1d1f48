import type { AddressInfo } from 'node:net'
import { describe, expect, it, onTestFinished } from 'vitest'
import type { ServerToSender, ServerToViewer } from '#protocol/messages'
import { buildApp } from '#server/app'
import type { App } from '#server/app'
import { addLiveSession, temporaryDir, testConfig } from '../helpers/build-app.ts'
import { frame, LiveClient, lostFrame, STREAM, welcomedSender } from '../helpers/live-client.ts'
import { serverProcess } from '../helpers/server-process.ts'
import { sessionTrace } from '../helpers/session-trace.ts'
import { storedSamples } from '../helpers/stored-samples.ts'

const { acc, marks } = sessionTrace()
const VALUES = [acc.x, acc.y, acc.z].map((column) => Float64Array.from(column, Math.fround))
const COUNT = Math.floor(VALUES[0].length / 10) * 10

async function start(dataDir: string) {
  const app = await buildApp(testConfig({ dataDir }))
  onTestFinished(() => app.close())
  await app.listen({ host: '127.0.0.1', port: 0 })
  return { app, wsUrl: `ws://127.0.0.1:${(app.server.address() as AddressInfo).port}` }
}

describe('a server that restarts in the middle of a stream', () => {
  it('has every acknowledged sample, none twice, and finds the same holds as without a restart', async () => {
    const dataDir = await temporaryDir()
    let server = await start(dataDir)
    const session = await addLiveSession(server.app)
    let acknowledged = 0
    let nextIndex = 0
    // Three lives of the server; each but the last ends with frames on their way.
    for (const until of [COUNT * 0.4, COUNT * 0.7, COUNT]) {
      const welcomed = await welcomedSender(server.wsUrl, session)
      const sender: LiveClient<ServerToSender> = welcomed.sender
      expect(welcomed.nextIndex).toBeGreaterThanOrEqual(acknowledged)
      nextIndex = welcomed.nextIndex - (welcomed.nextIndex % 10)
      for (; nextIndex < until; nextIndex += 10) {
        // One packet was lost on the radio.
        sender.socket.send(nextIndex === 500 ? lostFrame(500, 10) : frame(nextIndex, 10, VALUES))
        if (nextIndex % 500 === 0) await sender.next('ack', (ack) => ack.nextIndex >= nextIndex)
      }
      for (const [i, { atS, kind }] of marks.entries()) {
        if (atS * 100 < nextIndex) sender.send({ type: 'mark', id: `m${i}`, atS, kind })
      }
      if (until === COUNT) {
        sender.send({ type: 'finish', stream: STREAM, nextIndex: COUNT })
        await sender.next('finished')
      } else {
        await server.app.close()
        expect((await sender.closed).code).toBe(1001)
        acknowledged = Math.max(...sender.all('ack').map((ack) => ack.nextIndex))
        server = await start(dataDir)
      }
    }
    const truth = Array.from({ length: COUNT }, (_, i) => [i, ...VALUES.map((column) => column[i])])
    expect(await storedSamples(server.app.store, STREAM)).toEqual(truth.filter(([i]) => i < 500 || i >= 510))
    const report = await server.app.store.records.report(session)
    expect(report?.quality.gaps).toHaveLength(1)
    expect(report?.holds.length).toBeGreaterThan(0)
  })

  it('shows viewers the session so far, holds included, before the sender is back', async () => {
    const dataDir = await temporaryDir()
    const first = await start(dataDir)
    const session = await addLiveSession(first.app)
    const { sender } = await welcomedSender(first.wsUrl, session)
    const before = await new LiveClient<ServerToViewer>(
      `${first.wsUrl}/api/live/watch?session=${session}`,
    ).opened()
    await before.next('snapshot')
    for (const [i, { atS, kind }] of marks.entries()) sender.send({ type: 'mark', id: `m${i}`, atS, kind })
    for (let i = 0; i < COUNT; i += 10) sender.socket.send(frame(i, 10, VALUES))
    await sender.next('ack', (ack) => ack.nextIndex === COUNT)
    const late = await new LiveClient<ServerToViewer>(
      `${first.wsUrl}/api/live/watch?session=${session}`,
    ).opened()
    const expected = await late.next('snapshot')
    expect(expected.holds.length).toBeGreaterThan(0)
    await first.app.close()

    const second = await start(dataDir)
    const after = await new LiveClient<ServerToViewer>(
      `${second.wsUrl}/api/live/watch?session=${session}`,
    ).opened()
    const { window, holds, reference, receivedS, history } = await after.next('snapshot')
    expect(receivedS).toBe(expected.receivedS)
    expect(holds).toEqual(expected.holds)
    expect(reference).toEqual(expected.reference)
    expect(window).toEqual(expected.window)
    expect(history).toEqual(expected.history)
    expect(await after.next('sender')).toMatchObject({ connected: false })
  })

  it('analyses after the start what it was analysing when it stopped', async () => {
    const dataDir = await temporaryDir()
    const first = await start(dataDir)
    const session = await addLiveSession(first.app)
    const { sender } = await welcomedSender(first.wsUrl, session)
    for (let i = 0; i < COUNT; i += 10) sender.socket.send(frame(i, 10, VALUES))
    sender.send({ type: 'finish', stream: STREAM, nextIndex: COUNT })
    const state = async (app: App) => (await app.store.records.session(session))?.state
    await expect.poll(() => state(first.app), { interval: 1, timeout: 20_000 }).toBe('analysing')
    await first.app.close()
    expect(sender.all('finished')).toEqual([])

    const second = await start(dataDir)
    await expect.poll(() => state(second.app), { timeout: 10_000 }).toBe('finished')
    const again = await welcomedSender(second.wsUrl, session)
    again.sender.send({ type: 'finish', stream: STREAM, nextIndex: COUNT })
    expect(await again.sender.next('finished')).toMatchObject({ samples: COUNT })
  })

  it('killed at once with frames on their way, keeps every acknowledged sample and none twice', async () => {
    const dataDir = await temporaryDir()
    const killed = await serverProcess(dataDir)
    const post = async (path: string, body: object) => {
      const headers = { 'content-type': 'application/json' }
      const request = { method: 'POST', headers, body: JSON.stringify(body) }
      return ((await (await fetch(`${killed.url}${path}`, request)).json()) as { id: string }).id
    }
    const dogId = await post('/api/dogs', { name: 'Juniper' })
    const session = await post('/api/sessions', { dogId, sensor: 'replay' })
    const { sender } = await welcomedSender(killed.url.replace('http', 'ws'), session)
    let sent = 0
    const sending = setInterval(() => {
      // Never all of it: something must be left to send after the kill, however late the first answer comes.
      for (let i = 0; i < 5 && sent < COUNT * 0.6; i++, sent += 10)
        sender.socket.send(frame(sent, 10, VALUES))
    }, 1)
    await sender.next('ack', (ack) => ack.nextIndex > 500)
    killed.child.kill('SIGKILL')
    await sender.closed
    clearInterval(sending)
    const acknowledged = Math.max(...sender.all('ack').map((ack) => ack.nextIndex))

    const { app, wsUrl } = await start(dataDir)
    const again = await welcomedSender(wsUrl, session)
    expect(again.nextIndex).toBeGreaterThanOrEqual(acknowledged)
    for (let i = acknowledged; i < COUNT; i += 10) again.sender.socket.send(frame(i, 10, VALUES))
    await again.sender.next('ack', (ack) => ack.nextIndex === COUNT)
    const truth = Array.from({ length: COUNT }, (_, i) => [i, ...VALUES.map((column) => column[i])])
    expect(await storedSamples(app.store, STREAM)).toEqual(truth)
  }, 120_000)
})
