import { expect, it, onTestFinished } from 'vitest'
import type { ServerToSender } from '#protocol/messages'
import { addDog, addLiveSession, listeningApp, temporaryDir } from '../helpers/build-app.ts'
import { LiveClient } from '../helpers/live-client.ts'
import { CHANNELS, SteadySender } from './steady-sender.ts'
import { expectStored } from './stored-truth.ts'

const SENDERS = 50
const SAMPLES = 6000
const POLL = { timeout: 120_000, interval: 20 }

it(
  'fifty senders resending a minute each at once are slowed, not refused, and hold nobody else up',
  { timeout: 180_000 },
  async () => {
    const { app, wsUrl } = await listeningApp({ dataDir: await temporaryDir() })
    const dog = await addDog(app)
    const live = new SteadySender({ wsUrl: () => wsUrl, session: await addLiveSession(app, dog), seed: 900 })
    onTestFinished(() => live.stop())
    const running = live.run()
    await expect.poll(() => live.acknowledged, POLL).toBeGreaterThan(200)

    const backlogs: LiveClient<ServerToSender>[] = []
    for (let seed = 1; seed <= SENDERS; seed++) {
      const session = await addLiveSession(app, dog)
      // Makes the frames only; the whole backlog is written at once, without waiting for any answer.
      const source = new SteadySender({ wsUrl: () => wsUrl, session, seed })
      const client = await new LiveClient<ServerToSender>(`${wsUrl}/api/live/send`).opened()
      const hello = { type: 'hello', protocol: 1, session, stream: source.stream, rateHz: 100 }
      client.send({ ...hello, channels: CHANNELS, startedAtUs: 1_772_386_200_000_000 })
      for (let i = 0; i < SAMPLES; i += 10) client.socket.send(source.frame(i, 10))
      backlogs.push(client)
    }
    const before = live.acknowledged
    let mostWaiting = 0
    const done = (client: LiveClient<ServerToSender>) =>
      client.received.some((message) => message.type === 'ack' && message.nextIndex === SAMPLES)
    await expect
      .poll(() => {
        for (const { bufferedAmount } of app.websocketServer.clients) {
          mostWaiting = Math.max(mostWaiting, bufferedAmount)
        }
        return backlogs.filter((client) => !done(client)).length
      }, POLL)
      .toBe(0)
    expect(live.acknowledged).toBeGreaterThan(before)
    expect(live.connections).toBe(1)
    expect(backlogs.flatMap((client) => client.all('error'))).toEqual([])
    // Acknowledgements are few: several frames each.
    for (const client of backlogs) expect(client.all('ack').length).toBeLessThanOrEqual(SAMPLES / 10 / 2)
    expect(mostWaiting).toBeLessThan(64 * 1024)
    const total = live.end()
    await running
    await expectStored(app.store, 900, total)
    for (let seed = 1; seed <= SENDERS; seed++) await expectStored(app.store, seed, SAMPLES)
  },
)
