import { describe, expect, it } from 'vitest'
import { parseEdf } from '#signal/trace/edf-read'
import { formatTraceCsv } from '#signal/trace/format'
import { parseTrace } from '#signal/trace/parse'
import type { SessionSummary } from '#protocol/resources'
import { addDog, addLiveSession, call, listeningApp, testApp } from '../helpers/build-app.ts'
import { frame, lostFrame, STREAM, testSample, welcomedSender } from '../helpers/live-client.ts'
import { sessionTrace } from '../helpers/session-trace.ts'
import { upload } from '../helpers/upload.ts'

const TRACE = sessionTrace()
const CSV = formatTraceCsv(TRACE)
const AXES = ['x', 'y', 'z'] as const

describe('GET /api/sessions/:id/trace.csv', () => {
  it('gives the stored trace so that it reads back bit for bit, marks included', async () => {
    const app = await testApp()
    const { id } = (await upload(app, await addDog(app), CSV)).json()
    const response = await app.inject(`/api/sessions/${id}/trace.csv`)
    expect(response.headers['content-type']).toContain('text/csv')
    expect(parseTrace(response.body).trace).toEqual(parseTrace(CSV).trace)
  })
})

describe('GET /api/sessions/:id/trace.edf', () => {
  it('gives the stored trace as EDF+C: samples to half a step of 16 bits, start, rate and marks', async () => {
    const app = await testApp()
    const { id } = (await upload(app, await addDog(app), CSV)).json()
    const response = await app.inject(`/api/sessions/${id}/trace.edf`)
    expect(response.statusCode).toBe(200)
    expect(response.headers['content-disposition']).toBe(`attachment; filename="swaybook-${id}.edf"`)
    // The reserved field of the header (EDF+ specification, section 2.1.1): EDF+C when without gaps.
    expect(response.rawPayload.toString('latin1', 192, 197)).toBe('EDF+C')
    const { trace, unit } = parseEdf(response.rawPayload)
    expect(unit).toBe('m/s2')
    expect(trace.rateHz).toBe(TRACE.rateHz)
    expect(trace.startedAtUs).toBe(TRACE.startedAtUs)
    expect(trace.t.length).toBe(TRACE.t.length)
    for (const axis of AXES) {
      const written = TRACE.acc[axis]
      const range = Math.max(...written) - Math.min(...written)
      // Half a step of range / 65535, and 2 % for the limits of the range, rounded to 8 characters.
      const worst = Math.max(...trace.acc[axis].map((value, i) => Math.abs(value - written[i])))
      expect(worst).toBeLessThanOrEqual((1.02 * range) / 65535 / 2)
      expect(worst).toBeGreaterThan(0)
    }
    expect(trace.marks.map(({ kind }) => kind)).toEqual(TRACE.marks.map(({ kind }) => kind))
    // Annotations are stamped to 0.1 µs.
    for (const [i, { atS }] of trace.marks.entries()) expect(atS).toBeCloseTo(TRACE.marks[i].atS, 6)
  })

  it('can be uploaded again, and measures the same holds', async () => {
    const app = await testApp()
    const first = (await upload(app, await addDog(app), CSV)).json<SessionSummary>()
    const edf = (await app.inject(`/api/sessions/${first.id}/trace.edf`)).rawPayload
    const again = await upload(app, await addDog(app, 'Bramble'), new Uint8Array(edf), {}, 'again.edf')
    expect(again.statusCode).toBe(201)
    const second = again.json<SessionSummary>()
    expect(second).toMatchObject({
      holds: first.holds,
      startedAt: first.startedAt,
      durationS: first.durationS,
    })
    // A step of 16 bits is far below what the sway is told to.
    expect(second.swayMs2).toBeCloseTo(first.swayMs2!, 4)
  })

  it('keeps what a live stream lost as a gap, EDF+D', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    sender.socket.send(frame(0, 300))
    sender.socket.send(lostFrame(300, 200))
    sender.socket.send(frame(500, 500))
    sender.send({ type: 'mark', id: 'm', atS: 6, kind: 'note', note: 'wagged' })
    sender.send({ type: 'finish', stream: STREAM, nextIndex: 1000 })
    await sender.next('finished')
    const { rawPayload } = await call(app, { url: `/api/sessions/${session}/trace.edf` })
    expect(rawPayload.toString('latin1', 192, 197)).toBe('EDF+D')
    const { trace } = parseEdf(rawPayload)
    expect(trace.t.length).toBe(800)
    expect(trace.t[299]).toBeCloseTo(2.99, 5)
    expect(trace.t[300]).toBeCloseTo(5, 5)
    expect(trace.marks).toEqual([{ atS: expect.closeTo(6, 5), kind: 'note', note: 'wagged' }])
    // Sample 500 of the stream, to a step of 4 m/s² over 16 bits.
    expect(trace.acc.x[300]).toBeCloseTo(testSample(500)[0], 4)
  })

  it('says that a recording is too short for it and that the CSV has it all', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const { sender } = await welcomedSender(wsUrl, session)
    sender.socket.send(frame(0, 2))
    await sender.next('ack')
    const response = await call(app, { url: `/api/sessions/${session}/trace.edf` })
    expect(response.json()).toMatchObject({ code: 'TRACE_NOT_EXPORTABLE', status: 422 })
    expect(response.json().detail).toContain('trace.csv')
    expect((await call(app, { url: `/api/sessions/${session}/trace.csv` })).statusCode).toBe(200)
  })
})

it.each(['csv', 'edf'])('trace.%s says that a session has no samples, or is not there', async (extension) => {
  const app = await testApp()
  const response = await app.inject(`/api/sessions/${await addLiveSession(app)}/trace.${extension}`)
  expect(response.json()).toMatchObject({ code: 'TRACE_NOT_FOUND', status: 404 })
  const missing = await app.inject(`/api/sessions/nothing/trace.${extension}`)
  expect(missing.json()).toMatchObject({ code: 'SESSION_NOT_FOUND', status: 404 })
})
