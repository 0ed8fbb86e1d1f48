import { describe, expect, it } from 'vitest'
import type { App } from '#server/app'
import { addDog, call, listeningApp, testApp } from '../helpers/build-app.ts'
import { frame, STREAM, welcomedSender } from '../helpers/live-client.ts'
import { madePlan } from '../helpers/made-plan.ts'

const open = (app: App, payload: object) => call(app, { method: 'POST', url: '/api/sessions', payload })
const ID = 'made-by-a-device-01'

describe('POST /api/sessions', () => {
  it('opens a session with an id made by the client once, and gives it again after that', async () => {
    const { app, wsUrl } = await listeningApp()
    const asked = { id: ID, dogId: await addDog(app), sensor: 'phone' }
    const first = await open(app, asked)
    expect([first.statusCode, first.json().id]).toEqual([201, ID])
    const again = await open(app, asked)
    expect([again.statusCode, again.json()]).toEqual([200, first.json()])

    const { sender } = await welcomedSender(wsUrl, ID)
    sender.socket.send(frame(0, 300))
    sender.send({ type: 'finish', stream: STREAM, nextIndex: 300 })
    await sender.next('finished')
    const finished = await open(app, asked)
    expect([finished.statusCode, finished.json().state]).toEqual([200, 'finished'])
    expect((await call(app, { url: '/api/sessions' })).json().sessions).toHaveLength(1)
  })

  it('opens one session however many times the same call comes at once', async () => {
    const app = await testApp()
    const asked = { id: ID, dogId: await addDog(app), sensor: 'phone' }
    const answers = await Promise.all([1, 2, 3, 4].map(() => open(app, asked)))
    expect(answers.map(({ statusCode }) => statusCode).sort()).toEqual([200, 200, 200, 201])
  })

  it('refuses an id that belongs to another dog or sensor with 409', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    await open(app, { id: ID, dogId, sensor: 'phone' })
    const others = [
      { id: ID, dogId: await addDog(app, 'Bramble'), sensor: 'phone' },
      { id: ID, dogId, sensor: 'bluetooth' },
    ]
    for (const other of others) {
      expect((await open(app, other)).json()).toMatchObject({ code: 'SESSION_ID_TAKEN', status: 409 })
    }
    expect((await open(app, { id: 'short', dogId, sensor: 'phone' })).statusCode).toBe(400)
  })

  it('keeps what it follows, what the sensor said of itself, and the spacing of its set-up', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const plan = { method: 'PUT', url: `/api/dogs/${dogId}/plan`, payload: madePlan() } as const
    await call(app, { ...plan, headers: { 'if-none-match': '*' } })
    const [{ setUp }] = madePlan().exercises
    const sensorDescription = { name: 'IMU 7', layoutHash: 'ab12', layout: { count: 10 }, batteryPercent: 81 }
    const planned = { planVersion: 1, exerciseId: 'foam-stand' }
    const opened = (await open(app, { dogId, sensor: 'bluetooth', setUp, planned, sensorDescription })).json()
    expect(opened).toMatchObject({ setUp, planned, sensorDescription })
    const url = `/api/sessions/${opened.id}`
    expect((await call(app, { url })).json()).toEqual(opened)
    const [line] = (await call(app, { url: '/api/sessions' })).json().sessions
    expect({ ...line, sensorDescription, notes: null }).toEqual({ ...opened, senderConnected: false })
    expect(line).not.toHaveProperty('sensorDescription')
    // Changed and taken away again.
    const change = (payload: object) =>
      call(app, { method: 'PATCH', url, headers: { 'if-match': '*' }, payload })
    const wider = { ...setUp, foreToHindCm: 52.5 }
    expect((await change({ setUp: wider })).json().setUp).toEqual(wider)
    const bare = { exercise: setUp.exercise, surface: setUp.surface }
    expect((await change({ setUp: bare })).json().setUp).toEqual(bare)
  })

  it('refuses a plan that does not say this, and a description beyond 16 KiB', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const planned = { planVersion: 1, exerciseId: 'foam-stand' }
    const session = { dogId, sensor: 'phone' }
    const unknown = { code: 'PLANNED_UNKNOWN', status: 422 }
    expect((await open(app, { ...session, planned })).json()).toMatchObject(unknown)
    const plan = { method: 'PUT', url: `/api/dogs/${dogId}/plan`, payload: madePlan() } as const
    await call(app, { ...plan, headers: { 'if-none-match': '*' } })
    const elsewhere = { planVersion: 1, exerciseId: 'swim' }
    expect((await open(app, { ...session, planned: elsewhere })).json()).toMatchObject(unknown)
    expect((await open(app, { ...session, planned })).statusCode).toBe(201)
    const sensorDescription = { name: 'IMU', layout: 'x'.repeat(16 * 1024) }
    const large = await open(app, { ...session, sensorDescription })
    expect(large.json()).toMatchObject({ code: 'SENSOR_DESCRIPTION_TOO_LARGE', status: 413 })
  })
})
