import { expect, it } from 'vitest'
import type { ServerToViewer } from '#protocol/messages'
import { COMMON_PRACTICE_STOP_LIMITS } from '#signal/live/stop-limits'
import { addDog, addLiveSession, call, listeningApp } from '../helpers/build-app.ts'
import { frame, LiveClient, STREAM, welcomedSender } from '../helpers/live-client.ts'
import { madePlan } from '../helpers/made-plan.ts'
import { sessionTrace } from '../helpers/session-trace.ts'

const { acc, marks } = sessionTrace()
const VALUES = [acc.x, acc.y, acc.z]
const COUNT = Math.floor(VALUES[0].length / 10) * 10

const watch = (wsUrl: string, session: string) =>
  new LiveClient<ServerToViewer>(`${wsUrl}/api/live/watch?session=${session}`).opened()

it('a session that follows a plan shows what is planned, tells when a limit is passed, and reports it', async () => {
  const { app, wsUrl } = await listeningApp()
  const dogId = await addDog(app)
  const plan = madePlan({ sessionCapS: 20 })
  const url = `/api/dogs/${dogId}/plan`
  await call(app, { method: 'PUT', url, payload: plan, headers: { 'if-none-match': '*' } })
  // A later version changes nothing for a session that follows the first.
  await call(app, {
    method: 'PUT',
    url,
    payload: madePlan({ sessionCapS: 25 }),
    headers: { 'if-match': '"1"' },
  })
  const planned = { planVersion: 1, exerciseId: 'foam-stand' }
  const payload = { dogId, sensor: 'replay', planned }
  const { id: session } = (await call(app, { method: 'POST', url: '/api/sessions', payload })).json()

  const { sender } = await welcomedSender(wsUrl, session)
  const viewer = await watch(wsUrl, session)
  const first = await viewer.next('snapshot')
  expect(first.planned).toEqual({
    planVersion: 1,
    exercise: 'stand on foam pad',
    holdTargetS: 8,
    repetitions: 3,
  })
  expect(first.limits).toMatchObject({ sessionCapS: 20, basis: 'plan version 1, set by Rowan Vale' })
  expect(first.stops).toEqual([])
  for (const [i, { atS, kind }] of marks.entries()) sender.send({ type: 'mark', id: `m${i}`, atS, kind })
  for (let i = 0; i < COUNT; i += 10) sender.socket.send(frame(i, 10, VALUES))
  const stop = { reason: 'session-cap', atS: 20, value: 20, limit: 20 }
  expect((await viewer.next('stop')).stop).toEqual(stop)
  await sender.next('ack', (ack) => ack.nextIndex === COUNT)
  const late = await (await watch(wsUrl, session)).next('snapshot')
  expect(late.stops).toEqual([stop])

  sender.send({ type: 'finish', stream: STREAM, nextIndex: COUNT })
  await sender.next('finished')
  const report = (await call(app, { url: `/api/sessions/${session}/report` })).json()
  expect(report.session.limitsBasis).toBe('plan version 1, set by Rowan Vale')
  expect(report.session.planWarnings).toEqual([
    'The recording lasted 0:35, the limit is 0:20 (plan version 1, set by Rowan Vale).',
  ])
})

it('a session without a plan has the limits of common practice', async () => {
  const { app, wsUrl } = await listeningApp()
  const session = await addLiveSession(app)
  await welcomedSender(wsUrl, session)
  const { planned, limits } = await (await watch(wsUrl, session)).next('snapshot')
  expect(planned).toBeNull()
  expect(limits).toEqual(COMMON_PRACTICE_STOP_LIMITS)
})
