import { expect, it } from 'vitest'
import type { ServerToViewer } from '#protocol/messages'
import type { SessionSummary } from '#protocol/resources'
import { programmeTraces } from '#server/demo/programme-traces'
import { call, listeningApp, testApp } from '../helpers/build-app.ts'
import { LiveClient } from '../helpers/live-client.ts'

it('the demo makes its dog, sessions and a live harness through the public API, and ends with the dog', async () => {
  const { app, wsUrl } = await listeningApp()
  const start = () => call(app, { method: 'POST', url: '/api/demo' })
  const started = await start()
  expect(started.statusCode).toBe(202)
  const dog = started.json()
  expect(dog).toMatchObject({ name: 'Juniper', demo: true })
  expect((await start()).json().id).toBe(dog.id)
  expect((await call(app, { url: '/api/dogs' })).json()).toHaveLength(1)

  const sessions = async () =>
    (await call(app, { url: `/api/sessions?dogId=${dog.id}` })).json().sessions as SessionSummary[]
  const uploaded = async () => (await sessions()).filter(({ fileName }) => fileName !== null)
  await expect.poll(async () => (await uploaded()).length, { timeout: 25_000 }).toBeGreaterThan(1)
  const [newest] = await uploaded()
  expect(newest).toMatchObject({ state: 'finished', sensor: 'upload' })
  expect(newest.holds).toBeGreaterThan(0)
  // The newest come first; the last of the programme is the day before the demo dog was made.
  const daysBefore = (Date.parse(dog.createdAt) - Date.parse(newest.startedAt!)) / 86_400_000
  expect(daysBefore).toBeGreaterThan(0)
  expect(daysBefore).toBeLessThan(2)

  // A plan, and the owner's answers but for the newest session.
  const plan = (await call(app, { url: `/api/dogs/${dog.id}/plan` })).json()
  expect(plan).toMatchObject({ version: 2, setBy: 'Rowan Vale' })
  expect(newest.checkIn).toBeNull()
  const { answer } = programmeTraces(Date.parse(dog.createdAt) * 1000)[1].checkIn
  await expect.poll(async () => (await uploaded())[1].checkIn?.answer, { timeout: 25_000 }).toBe(answer)
  expect(newest.setUp).toMatchObject({ foreToHindCm: 52, firmness: expect.any(String), unstable: true })

  const live = (await sessions()).find(({ state }) => state === 'recording')!
  expect(live.sensor).toBe('simulated harness')
  expect(live.planned).toEqual({ planVersion: 2, exerciseId: 'foam-stand' })
  expect(live.setUp).toEqual(plan.exercises[0].setUp)

  const viewer = new LiveClient<ServerToViewer>(`${wsUrl}/api/live/watch?session=${live.id}`)
  const shown = await viewer.next('snapshot')
  expect(shown.limits.basis).toBe('plan version 2, set by Rowan Vale')
  await viewer.next('window')

  // A person records with a simulated harness too. When its own recording is over the demo tidies up after
  // itself, an earlier run included, and not after the person.
  const open = async (id?: string) => {
    const payload = { dogId: dog.id, sensor: 'simulated harness', ...(id && { id }) }
    return (await call(app, { method: 'POST', url: '/api/sessions', payload })).json().id as string
  }
  const own = await open()
  const earlier = await open('demo-harness-of-an-earlier-run')
  await call(app, { method: 'POST', url: `/api/sessions/${live.id}/finish` })
  await expect
    .poll(async () => (await sessions()).map(({ id }) => id), { timeout: 25_000 })
    .not.toContain(earlier)
  const left = (await sessions()).map(({ id }) => id)
  expect(left).toContain(own)
  expect(left).toContain(live.id)

  expect((await call(app, { method: 'DELETE', url: `/api/dogs/${dog.id}` })).statusCode).toBe(204)
  await viewer.closed
  expect(viewer.all('ended')).toHaveLength(1)
  await expect.poll(() => app.websocketServer.clients.size).toBe(0)
  expect((await call(app, { url: '/api/sessions' })).json().sessions).toEqual([])
}, 60_000)

it('the demo says that it needs a listening server', async () => {
  const app = await testApp()
  expect((await app.inject({ method: 'POST', url: '/api/demo' })).json()).toMatchObject({
    code: 'DEMO_UNAVAILABLE',
    status: 503,
  })
})
