import { expect, it, onTestFinished } from 'vitest'
import { openSqliteStore } from '#server/store/sqlite/store'
import { addLiveSession, listeningApp, temporaryDir } from '../helpers/build-app.ts'
import { startServer } from '../helpers/running-server.ts'
import { addSessions, sessionState } from './api.ts'
import { limitedFiles, tmpfsDisk } from './small-disk.ts'
import { SteadySender } from './steady-sender.ts'
import { expectStored } from './stored-truth.ts'

const STREAMS = 3
const POLL = { timeout: 60_000, interval: 10 }

it.each([
  ['a disk without room', 'mounting a tmpfs needs root', tmpfsDisk],
  ['files that may not grow', 'prlimit is missing', limitedFiles],
] as const)(
  '%s: senders are told, nothing acknowledged is lost, and all goes on when there is room',
  { timeout: 240_000 },
  async (name, obstacle, smallDisk) => {
    const disk = smallDisk(await temporaryDir())
    if (!disk) {
      if (process.env.CI) throw new Error(`not run: ${obstacle}`)
      process.stderr.write(`\n*** NOT RUN: ${name} (${obstacle}) ***\n`)
      return
    }
    const server = await startServer({ dataFolder: disk.dataFolder })
    onTestFinished(() => server.kill())
    const sessions = await addSessions(server.url, STREAMS)
    const wsUrl = () => server.url.replace('http', 'ws')
    const senders = sessions.map((session, i) => new SteadySender({ wsUrl, session, seed: i + 1 }))
    onTestFinished(() => senders.forEach((sender) => sender.stop()))
    const running = Promise.all(senders.map((sender) => sender.run()))
    const everyone = (asked: (sender: SteadySender) => boolean) =>
      expect.poll(() => senders.every(asked), POLL).toBe(true)
    await everyone(({ acknowledged }) => acknowledged > 500)

    for (let round = 1; round <= 2; round++) {
      disk.fill(server.pid)
      // Again and again: a sender that comes back meets the same disk.
      await everyone(({ errors }) => errors.filter((code) => code === 'STORE_FAILED').length >= 3 * round)
      // What was recorded is still shown.
      expect((await fetch(`${server.url}/api/sessions`)).status).toBe(200)
      const before = senders.map(({ acknowledged }) => acknowledged)
      disk.empty(server.pid)
      await expect
        .poll(() => senders.every(({ acknowledged }, i) => acknowledged > before[i] + 500), POLL)
        .toBe(true)
    }

    // The end of a recording on a full disk: told as failed or still to come, never as done.
    const [last, ...others] = senders
    const totals = others.map((sender) => sender.end())
    await expect.poll(() => others.every(({ finished }) => finished), POLL).toBe(true)
    disk.fill(server.pid)
    await expect.poll(() => last.errors.at(-1), POLL).toBe('STORE_FAILED')
    totals.unshift(last.end())
    disk.empty(server.pid)
    await running
    expect(senders.flatMap(({ problems }) => problems)).toEqual([])
    expect(senders.flatMap(({ errors }) => errors).filter((code) => code !== 'STORE_FAILED')).toEqual([])
    expect(new Set(senders.flatMap(({ closeCodes }) => closeCodes))).toEqual(new Set([1011, 1005]))
    for (const session of sessions) expect(await sessionState(server.url, session)).toBe('finished')
    expect(await server.stop()).toBe(0)
    const store = await openSqliteStore(disk.dataFolder, 1)
    onTestFinished(() => store.close())
    for (const [i, total] of totals.entries()) await expectStored(store, i + 1, total)
  },
)

it('a disk that fills up while a recording is analysed leaves the server running, and a restart analyses it', async () => {
  const disk = limitedFiles(await temporaryDir())
  if (!disk) {
    if (process.env.CI) throw new Error('not run: prlimit is missing')
    process.stderr.write('\n*** NOT RUN: a disk that fills up during analysis (prlimit is missing) ***\n')
    return
  }
  const server = await startServer({ dataFolder: disk.dataFolder })
  onTestFinished(() => server.kill())
  const [session, other] = await addSessions(server.url, 2)
  const wsUrl = () => server.url.replace('http', 'ws')
  const sender = new SteadySender({ wsUrl, session, seed: 1 })
  onTestFinished(() => sender.stop())
  void sender.run()
  await expect.poll(() => sender.acknowledged, POLL).toBeGreaterThan(3000)
  const total = sender.end()
  await expect.poll(() => sender.acknowledged === total || sender.finished !== null, POLL).toBe(true)
  disk.fill(server.pid)
  // Finished from elsewhere too: a page that ends another recording on the same disk.
  const answer = await fetch(`${server.url}/api/sessions/${other}/finish`, { method: 'POST' })
  expect(answer.status).toBe(507)
  expect(await answer.json()).toMatchObject({
    code: 'DISK_FAILED',
    detail: expect.stringMatching(/Make room/),
  })
  expect((await fetch(`${server.url}/api/health`)).status).toBe(200)
  sender.stop()
  await server.kill()

  const again = await startServer({ dataFolder: disk.dataFolder })
  onTestFinished(() => again.kill())
  const second = new SteadySender({ wsUrl: () => again.url.replace('http', 'ws'), session, seed: 1, total })
  onTestFinished(() => second.stop())
  await second.run()
  expect(second.finished).toEqual({ samples: total })
  expect(await sessionState(again.url, session)).toBe('finished')
})

it('an analysis that finds no room is made again when the sender comes back, or after a start', async () => {
  const { app, wsUrl } = await listeningApp()
  const { records } = app.store
  const saveAnalysis = records.saveAnalysis.bind(records)
  records.saveAnalysis = () => Promise.reject(Object.assign(new Error('full'), { code: 'SQLITE_FULL' }))
  const session = await addLiveSession(app)
  const options = { wsUrl: () => wsUrl, session, seed: 1, total: 2000 }
  const sender = new SteadySender(options)
  onTestFinished(() => sender.stop())
  const running = sender.run()
  await expect.poll(() => sender.errors, POLL).toContain('STORE_FAILED')
  expect(sender.finished).toBeNull()
  expect((await records.session(session))?.state).toBe('analysing')
  // The same at the start: logged, and no reason to stop.
  await app.ingest.resume()
  records.saveAnalysis = saveAnalysis
  await running
  expect(sender.finished).toEqual({ samples: 2000 })
  expect((await records.session(session))?.state).toBe('finished')
})
