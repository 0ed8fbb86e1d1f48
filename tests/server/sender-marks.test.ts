import { expect, it } from 'vitest'
import type { ServerToViewer } from '#protocol/messages'
import { addLiveSession, call, listeningApp } from '../helpers/build-app.ts'
import { frame, LiveClient, STREAM, welcomedSender } from '../helpers/live-client.ts'

const post = (session: string, payload: object) =>
  ({ method: 'POST', url: `/api/sessions/${session}/marks`, payload }) as const

it('a sender gets the marks of viewers and of REST, and of its own only that they are stored', async () => {
  const { app, wsUrl } = await listeningApp()
  const session = await addLiveSession(app)
  const { sender } = await welcomedSender(wsUrl, session)
  const viewer = await new LiveClient<ServerToViewer>(`${wsUrl}/api/live/watch?session=${session}`).opened()
  await viewer.next('snapshot')

  sender.send({ type: 'mark', id: 'own', atS: 1, kind: 'support-on' })
  await sender.next('marked')
  viewer.send({ type: 'mark', id: 'seen', atS: 2, kind: 'note', note: 'slipped' })
  await viewer.next('marked')
  await call(app, post(session, { id: 'posted', atS: 3, kind: 'support-off' }))
  // One that is known is told nobody again.
  await call(app, post(session, { id: 'posted', atS: 3, kind: 'support-off' }))
  await sender.next('mark', ({ mark }) => mark.id === 'posted')
  expect(sender.all('mark').map(({ mark }) => mark)).toEqual([
    { id: 'seen', atS: 2, kind: 'note', note: 'slipped' },
    { id: 'posted', atS: 3, kind: 'support-off', note: null },
  ])
})

it('a sender that comes back gets every stored mark after its welcome, in the order of time', async () => {
  const { app, wsUrl } = await listeningApp()
  const session = await addLiveSession(app)
  const first = await welcomedSender(wsUrl, session)
  first.sender.send({ type: 'mark', id: 'b', atS: 2, kind: 'support-on' })
  await first.sender.next('marked')
  first.sender.socket.terminate()
  await call(app, post(session, { id: 'a', atS: 1, kind: 'repetition-start' }))

  const { sender } = await welcomedSender(wsUrl, session)
  await sender.next('mark', ({ mark }) => mark.id === 'b')
  expect(
    sender.received.map((message) => (message.type === 'mark' ? message.mark.id : message.type)),
  ).toEqual(['welcome', 'a', 'b'])
  // The recording goes on as before, and a mark that is removed is not told.
  await call(app, { method: 'DELETE', url: `/api/sessions/${session}/marks/a` })
  sender.socket.send(frame(0, 300))
  sender.send({ type: 'finish', stream: STREAM, nextIndex: 300 })
  await sender.next('finished')
  expect(sender.all('mark')).toHaveLength(2)
})
