import { describe, expect, it } from 'vitest'
import { encodeFrame } from '#protocol/frames'
import type { Timeline } from '#protocol/resources'
import type { Report } from '#signal/report-types'
import { parseTrace } from '#signal/trace/parse'
import { parseEdf } from '#signal/trace/edf-read'
import type { App } from '#server/app'
import { addLiveSession, call, listeningApp } from '../helpers/build-app.ts'
import { lostFrame, STREAM, testSample, welcomedSender } from '../helpers/live-client.ts'
import { receive } from '../signal/clock/link.ts'
import type { Received } from '../signal/clock/link.ts'

const STARTED_AT_US = 1_772_386_200_000_000
const PACKET = 10
const FAST = {
  durationS: 90,
  nominalRateHz: 100,
  ppm: 200,
  samplesPerPacket: PACKET,
  jitterS: 0.1,
  lossShare: 0.05,
  connectionIntervalS: 0,
  retryShare: 0,
  stallEveryS: 20,
  seed: 'live clock',
}

/** What a sensor bridge sends for a link: packets with their times of arrival, losses declared. */
function framesOf({ index, arrivedS }: Received): { firstIndex: number; bytes: Uint8Array }[] {
  const frames = []
  let next = 0
  for (const [i, last] of index.entries()) {
    const firstIndex = last - PACKET + 1
    if (firstIndex > next) frames.push({ firstIndex: next, bytes: lostFrame(next, firstIndex - next) })
    const values = [0, 1, 2].map((axis) =>
      Float64Array.from({ length: PACKET }, (_, k) => testSample(firstIndex + k)[axis]),
    )
    const arrivedAtUs = STARTED_AT_US + arrivedS[i] * 1e6
    const bytes = encodeFrame({
      firstIndex,
      count: PACKET,
      channels: 3,
      encoding: 'float32',
      arrivedAtUs,
      values,
    })
    frames.push({ firstIndex, bytes })
    next = last + 1
  }
  return frames
}

const json = async <T>(app: App, url: string) => (await call(app, { url })).json() as T
const post = (app: App, session: string, payload: object) =>
  call(app, { method: 'POST', url: `/api/sessions/${session}/marks`, payload })

describe('a sensor whose clock runs 200 ppm fast, over a link with jitter, losses and an outage', () => {
  it('has its samples at the right times to 5 ms RMS, its losses as gaps, and everything on one axis', async () => {
    const link = receive(FAST)
    const endIndex = link.index[link.index.length - 1] + 1
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const frames = framesOf(link)

    // The network is away from the middle on; what came meanwhile is sent afterwards, stamped as it came,
    // and a part of it twice with another stamp.
    const half = frames.length / 2
    const first = await welcomedSender(wsUrl, session, { startedAtUs: STARTED_AT_US })
    for (const { bytes } of frames.slice(0, half)) first.sender.socket.send(bytes)
    await first.sender.next('ack', ({ nextIndex }) => nextIndex >= frames[Math.floor(half)].firstIndex)
    first.sender.socket.terminate()
    const { sender, nextIndex } = await welcomedSender(wsUrl, session, { startedAtUs: STARTED_AT_US })
    for (const { bytes } of frames.slice(half - 20, half)) {
      const late = bytes.slice()
      new DataView(late.buffer).setFloat64(16, STARTED_AT_US + 500e6, true)
      sender.socket.send(late)
    }
    for (const { bytes } of frames.slice(half - 20)) sender.socket.send(bytes)
    expect(nextIndex).toBeGreaterThan(0)
    // While recording a mark lies in seconds of the stream: at sample 6000.
    expect((await post(app, session, { id: 'm', atS: 60, kind: 'note' })).json().atS).toBe(60)
    expect(await json(app, `/api/sessions/${session}/marks`)).toMatchObject([{ id: 'm', atS: 60 }])
    sender.send({ type: 'finish', stream: STREAM, nextIndex: endIndex })
    await sender.next('finished')

    const report = await json<Report>(app, `/api/sessions/${session}/report`)
    const clock = report.quality.clock!
    expect(clock).toMatchObject({ nominalRateHz: 100, basis: 'arrival times' })
    expect(Math.abs(clock.rateHz / link.trueRateHz - 1) * 1e6).toBeLessThanOrEqual(100)
    expect(Math.abs(clock.driftPpm! - 200)).toBeLessThanOrEqual(100)
    expect(report.trace.rateHz).toBe(clock.rateHz)

    // Every sample at its time.
    const { body } = await call(app, { url: `/api/sessions/${session}/trace.csv` })
    const { trace } = parseTrace(body)
    const received = link.index.flatMap((last) =>
      Array.from({ length: PACKET }, (_, k) => last - PACKET + 1 + k),
    )
    expect(trace.t).toHaveLength(received.length)
    const squares = received.reduce((sum, n, i) => sum + (trace.t[i] - link.trueS(n)) ** 2, 0)
    expect(1000 * Math.sqrt(squares / received.length)).toBeLessThanOrEqual(5)
    // Every lost packet (0.1 s) is a gap, where it was.
    const truth = link.index.flatMap((last, i) => {
      const before = i === 0 ? -1 : link.index[i - 1]
      return last - before > PACKET ? [{ fromS: link.trueS(before), toS: link.trueS(last - PACKET + 1) }] : []
    })
    expect(report.quality.gaps).toHaveLength(truth.length)
    for (const [i, { fromS, toS }] of truth.entries()) {
      // 100 ppm of 90 s at most.
      expect(Math.abs(report.quality.gaps[i].fromS - fromS)).toBeLessThan(0.01)
      expect(Math.abs(report.quality.gaps[i].toS - toS)).toBeLessThan(0.01)
    }

    // Marks are where sample 6000 is, wherever they are read.
    const [listed] = await json<{ atS: number }[]>(app, `/api/sessions/${session}/marks`)
    expect(Math.abs(listed.atS - link.trueS(6000))).toBeLessThan(0.01)
    expect(listed.atS).toBeCloseTo(6000 / clock.rateHz, 5)
    const timeline = await json<Timeline>(app, `/api/sessions/${session}/timeline`)
    expect(timeline.marks.map((mark) => mark.atS)).toEqual([listed.atS])
    expect(trace.marks.map((mark) => mark.atS)).toEqual([expect.closeTo(listed.atS, 5)])
    const edf = await call(app, { url: `/api/sessions/${session}/trace.edf` })
    const read = parseEdf(new Uint8Array(edf.rawPayload))
    expect(read.trace.marks.map((mark) => mark.atS)).toEqual([expect.closeTo(listed.atS, 3)])

    // One set on the finished session keeps the time it was given.
    expect((await post(app, session, { id: 'late', atS: 30.5, kind: 'note' })).json().atS).toBe(30.5)
    const both = await json<{ atS: number }[]>(app, `/api/sessions/${session}/marks`)
    expect(both.map((mark) => mark.atS)).toEqual([30.5, listed.atS])
    expect((await post(app, session, { atS: 91, kind: 'note' })).json().code).toBe('MARK_BEYOND_END')
  }, 60_000)

  it('a sender whose wall clock is set back keeps the rate; one of half a minute keeps the nominal one', async () => {
    const link = receive({ ...FAST, durationS: 100, lossShare: 0 })
    const arrivedS = link.arrivedS.map((s, i) => (link.index[i] < 7000 ? s : s - 3600))
    for (const [to, basis] of [
      [link.index.length, 'arrival times'],
      [300, 'nominal rate'],
    ] as const) {
      const { app, wsUrl } = await listeningApp()
      const session = await addLiveSession(app)
      const { sender } = await welcomedSender(wsUrl, session, { startedAtUs: STARTED_AT_US })
      const part = { ...link, index: link.index.slice(0, to), arrivedS: arrivedS.slice(0, to) }
      for (const { bytes } of framesOf(part)) sender.socket.send(bytes)
      sender.send({ type: 'finish', stream: STREAM, nextIndex: part.index[to - 1] + 1 })
      await sender.next('finished')
      const { clock } = (await json<Report>(app, `/api/sessions/${session}/report`)).quality
      expect(clock!.basis).toBe(basis)
      expect(
        Math.abs(clock!.rateHz / (basis === 'arrival times' ? link.trueRateHz : 100) - 1),
      ).toBeLessThanOrEqual(1e-4)
      expect(clock!.reason === undefined).toBe(basis === 'arrival times')
    }
  }, 60_000)
})
