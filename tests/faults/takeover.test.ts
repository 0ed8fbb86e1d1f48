import { describe, expect, it, onTestFinished } from 'vitest'
import { addLiveSession, listeningApp } from '../helpers/build-app.ts'
import { SteadySender } from './steady-sender.ts'
import { expectStored } from './stored-truth.ts'

const POLL = { timeout: 60_000, interval: 5 }

describe('two tabs that send one stream', () => {
  it('the newer one goes on, the older one is told 4409 and stays away', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const options = { wsUrl: () => wsUrl, session, seed: 3 }
    const [older, newer] = [new SteadySender(options), new SteadySender(options)]
    onTestFinished(() => [older, newer].forEach((sender) => sender.stop()))
    const olderRun = older.run()
    await expect.poll(() => older.acknowledged, POLL).toBeGreaterThan(500)
    const newerRun = newer.run()
    await olderRun
    expect(older.closeCodes).toEqual([4409])
    expect(older.errors).toEqual(['TAKEN_OVER'])
    await expect.poll(() => newer.acknowledged, POLL).toBeGreaterThan(older.sent + 500)
    const total = newer.end()
    await newerRun
    expect(newer.connections).toBe(1)
    await expectStored(app.store, 3, total)
  })

  it('taking the stream from each other again and again lose nothing and store nothing twice', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const options = { wsUrl: () => wsUrl, session, seed: 4, yields: false }
    const tabs = [new SteadySender(options), new SteadySender(options), new SteadySender(options)]
    onTestFinished(() => tabs.forEach((tab) => tab.stop()))
    const runs = tabs.map((tab) => tab.run())
    const takeovers = () =>
      tabs.flatMap(({ closeCodes }) => closeCodes).filter((code) => code === 4409).length
    await expect.poll(takeovers, POLL).toBeGreaterThan(60)
    const [last, ...others] = tabs
    for (const other of others) other.stop()
    await Promise.all(runs.slice(1))
    const total = last.end(Math.max(...tabs.map(({ sent }) => sent)))
    await runs[0]
    expect(tabs.flatMap(({ problems }) => problems)).toEqual([])
    expect(last.finished).toEqual({ samples: total })
    await expectStored(app.store, 4, total)
  })
})
