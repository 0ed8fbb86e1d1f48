import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import { expect, it, onTestFinished } from 'vitest'
import type { ServerToViewer } from '#protocol/messages'
import { addLiveSession, listeningApp, temporaryDir } from '../helpers/build-app.ts'
import { frame, LiveClient, STREAM, welcomedSender } from '../helpers/live-client.ts'
import { storedSamples } from '../helpers/stored-samples.ts'

it('a disk that hangs holds back acknowledgements, not windows', async () => {
  const dataDir = await temporaryDir()
  const { app, wsUrl } = await listeningApp({ dataDir })
  const session = await addLiveSession(app)
  const { sender } = await welcomedSender(wsUrl, session)
  sender.socket.send(frame(0, 100))
  await sender.next('ack')
  const watchUrl = `${wsUrl}/api/live/watch?session=${session}`
  const viewer = await new LiveClient<ServerToViewer>(watchUrl).opened()
  await viewer.next('snapshot')

  // Somebody else has the database: nothing can be committed.
  const other = new Sqlite(join(dataDir, 'swaybook.sqlite'))
  onTestFinished(() => void other.close())
  other.exec('begin immediate')
  let next = 100
  const acks = sender.all('ack').length
  while (viewer.all('window').length < 8) {
    sender.socket.send(frame(next, 10))
    next += 10
    await new Promise((resolve) => setTimeout(resolve, 60))
  }
  expect(sender.all('ack').length).toBe(acks)
  expect((await app.store.series.state(STREAM)).nextIndex).toBe(100)
  other.exec('rollback')
  await sender.next('ack', ({ nextIndex }) => nextIndex === next)
  expect((await storedSamples(app.store, STREAM)).map(([index]) => index)).toEqual(
    Array.from({ length: next }, (_, i) => i),
  )
})
