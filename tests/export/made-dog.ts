import { readFile } from 'node:fs/promises'
import { expect } from 'vitest'
import { encodeFrame } from '#protocol/frames'
import type { ListeningApp } from '../helpers/build-app.ts'
import { addDog, call } from '../helpers/build-app.ts'
import { helloMessage, LiveClient } from '../helpers/live-client.ts'
import type { Hello, ServerToSender } from '#protocol/messages'
import type { NewSession } from '#protocol/resources'
import { madePlan } from '../helpers/made-plan.ts'
import { upload } from '../helpers/upload.ts'

/** Texts that break careless writers and readers. */
export const STRANGE = [
  '=HYPERLINK("x")',
  'Ωmega "quoted", with\r\nnewline',
  '-2+3',
  '🐕 Jüniper',
  "@cmd|' /C'!A0",
  '../../etc',
]

export const sampleTrace = (name: string) =>
  readFile(new URL(`../../sample-traces/${name}`, import.meta.url), 'utf8')

/** A dog with an upload, one with gyroscope, a live stream with losses, a plan, a check-in, marks. */
export async function madeDog(server: ListeningApp): Promise<string> {
  const { app } = server
  const dogId = await addDog(app, STRANGE[1])
  const put = (url: string, payload: object, headers: Record<string, string> = {}) =>
    call(app, { method: 'PUT', url, payload, headers })
  const first = await put(`/api/dogs/${dogId}/plan`, madePlan(), { 'if-none-match': '*' })
  expect(first.statusCode).toBe(201)
  const quiet = await upload(
    app,
    dogId,
    await sampleTrace('foam-hand-support.tsv'),
    { exercise: STRANGE[0], surface: STRANGE[3], mount: 'y=cranial,z=dorsal' },
    'strange =1+1.tsv',
  )
  expect(quiet.statusCode).toBe(201)
  const { id } = quiet.json<{ id: string }>()
  await put(`/api/sessions/${id}/check-in`, { answer: 'tired', note: STRANGE[4] })
  const phone = await upload(app, dogId, await sampleTrace('phone.csv'))
  expect(phone.statusCode).toBe(201)
  await liveSession(server, dogId, { channels: 6, samples: 2500, lost: [[700, 40]] })
  return dogId
}

export interface LiveRecording {
  readonly channels: 3 | 6
  readonly samples: number
  /** First index and count of what never arrived. */
  readonly lost: readonly (readonly [number, number])[]
  /** Of sample and channel; a sine by default. */
  readonly value?: (i: number, channel: number) => number
  /** Beside dog and sensor, when the session is opened. */
  readonly session?: Partial<NewSession>
  readonly hello?: Partial<Hello>
  /** Of the one mark that is sent. */
  readonly note?: string
  /** What somebody does before it ends. */
  readonly meanwhile?: (sessionId: string) => Promise<void>
}

/** Between two samples, by the clock the packets are stamped with, µs: 150 ppm slower than it says. */
const PERIOD_US = 10_001.5

/** Records a session through the socket and waits until it is analysed, or failed. Gives its id. */
export async function liveSession(
  { url, wsUrl }: Pick<ListeningApp, 'url' | 'wsUrl'>,
  dogId: string,
  {
    channels,
    samples,
    lost,
    meanwhile,
    value = (i, c) => (c === 2 ? 9.81 : 0) + 0.1 * Math.sin(i / 7 + c),
    session: described,
    hello,
    note = STRANGE[2],
  }: LiveRecording,
): Promise<string> {
  const setUp = { exercise: 'stand', surface: 'foam' }
  const opened = await fetch(`${url}/api/sessions`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ dogId, sensor: 'bluetooth', setUp, ...described }),
  })
  const { id: session } = (await opened.json()) as { id: string }
  const stream = `stream-${session}`
  const sender = await new LiveClient<ServerToSender>(`${wsUrl}/api/live/send`).opened()
  sender.send(helloMessage(session, { stream, channels, ...hello }))
  await sender.next('welcome')
  const startUs = 1_772_386_200_000_000
  const PACKET = 25
  let at = 0
  for (const [from, count] of [...lost, [samples, 0] as const]) {
    for (; at < from; at += Math.min(PACKET, from - at)) {
      const length = Math.min(PACKET, from - at)
      const first = at
      sender.socket.send(
        encodeFrame({
          firstIndex: at,
          count: length,
          channels,
          encoding: 'float32',
          arrivedAtUs: startUs + (at + length) * PERIOD_US,
          values: Array.from({ length: channels }, (_, c) =>
            Float64Array.from({ length }, (_, i) => Math.fround(value(first + i, c))),
          ),
        }),
      )
    }
    if (count > 0) {
      sender.socket.send(
        encodeFrame({ firstIndex: at, count, channels, encoding: 'lost', arrivedAtUs: startUs, values: [] }),
      )
      at += count
    }
  }
  sender.send({ type: 'mark', id: 'mark-1', atS: 1.25, kind: 'note', note })
  await sender.next('marked')
  await meanwhile?.(session)
  sender.send({ type: 'finish', stream, nextIndex: at })
  await sender.next('finished')
  sender.socket.close()
  return session
}
