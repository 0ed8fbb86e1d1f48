import { spawnSync } from 'node:child_process'
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it, onTestFinished } from 'vitest'
import { StorageCondition } from '#server/operations/storage-condition'
import { addSessions } from '../faults/api.ts'
import { limitedFiles } from '../faults/small-disk.ts'
import { SteadySender } from '../faults/steady-sender.ts'
import { call, temporaryDir, testApp } from '../helpers/build-app.ts'
import { startServer } from '../helpers/running-server.ts'

const POLL = { timeout: 60_000, interval: 50 }
const ready = async (url: string) => {
  const answer = await fetch(`${url}/api/ready`)
  const { reasons } = (await answer.json()) as { reasons: { code: string; detail: string }[] }
  return { status: answer.status, codes: reasons.map(({ code }) => code), reasons }
}

it('is ready while it runs, and says so no more once it stops', async () => {
  const app = await testApp()
  expect((await call(app, { url: '/api/ready' })).json()).toMatchObject({ ready: true, reasons: [] })
  await app.lifecycle.stop(1000)
  const stopping = await call(app, { url: '/api/ready' })
  expect(stopping.statusCode).toBe(503)
  expect(stopping.json()).toMatchObject({ ready: false, reasons: [{ code: 'STOPPING' }] })
  expect((await call(app, { url: '/api/health' })).statusCode).toBe(200)
})

it(
  'a full disk makes it unready in words, and it is ready by itself when there is room',
  { timeout: 180_000 },
  async () => {
    const disk = limitedFiles(await temporaryDir())
    if (!disk) {
      if (process.env.CI) throw new Error('not run: prlimit is missing')
      process.stderr.write('\n*** NOT RUN: readiness on a full disk (prlimit is missing) ***\n')
      return
    }
    const server = await startServer({ dataFolder: disk.dataFolder })
    onTestFinished(() => server.kill())
    const [session] = await addSessions(server.url, 1)
    const sender = new SteadySender({ wsUrl: () => server.url.replace('http', 'ws'), session, seed: 1 })
    onTestFinished(() => sender.stop())
    void sender.run()
    await expect.poll(() => sender.acknowledged, POLL).toBeGreaterThan(500)
    disk.fill(server.pid)
    await expect.poll(async () => (await ready(server.url)).codes, POLL).toEqual(['DISK_FULL'])
    const full = await ready(server.url)
    expect(full.status).toBe(503)
    expect(full.reasons[0].detail).toMatch(/Nothing more can be stored: .*Make room/)
    disk.empty(server.pid)
    await expect.poll(async () => (await ready(server.url)).status, POLL).toBe(200)
    const before = sender.acknowledged
    await expect.poll(() => sender.acknowledged, POLL).toBeGreaterThan(before)
  },
)

it('tells a read-only folder from a full one, and when it is writable again', async () => {
  const disk = join(await temporaryDir(), 'disk')
  mkdirSync(disk)
  if (spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=8m', 'tmpfs', disk]).status !== 0) {
    if (process.env.CI) throw new Error('not run: mounting a tmpfs needs root')
    process.stderr.write('\n*** NOT RUN: a read-only data folder (mounting a tmpfs needs root) ***\n')
    return
  }
  onTestFinished(() => void spawnSync('umount', ['-l', disk]))
  const told: (string | null)[] = []
  const condition = new StorageCondition(disk, (problem) => told.push(problem?.trouble ?? null))
  onTestFinished(() => condition.close())
  await condition.try()
  expect(condition.problem).toBeNull()
  expect(spawnSync('mount', ['-o', 'remount,ro', disk]).status).toBe(0)
  await condition.try()
  expect(condition.problem?.trouble).toBe('read-only')
  expect(spawnSync('mount', ['-o', 'remount,rw', disk]).status).toBe(0)
  await expect.poll(() => condition.problem, POLL).toBeNull()
  expect(told).toEqual(['read-only', null])
})
