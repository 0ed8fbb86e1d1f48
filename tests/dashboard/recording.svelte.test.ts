import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import { LiveSession } from '../../dashboard/lib/live-session.svelte.ts'
import { Recording } from '../../dashboard/lib/recording.svelte.ts'
import { RecordingDesk } from '../../dashboard/lib/recording-desk.svelte.ts'
import { recordingLink } from '../../dashboard/lib/recording-link.ts'
import { Feed } from '../../dashboard/recorder/feed.svelte.ts'
import type { FromRecorder, ToRecorder } from '../../dashboard/recorder/messages.ts'
import { FakeSource } from './fakes/fake-source.ts'

const START_MS = Date.UTC(2026, 10, 25, 10)

beforeEach(() => {
  vi.useFakeTimers({
    toFake: ['Date', 'performance', 'setTimeout', 'setInterval', 'clearTimeout', 'clearInterval'],
  })
  vi.setSystemTime(START_MS)
})
afterEach(() => void vi.useRealTimers())

/** A sensor that was watched for `watchedS` at its real rate, and a recording that is asked to begin. */
function prepared({ watchedS = 0, realHz = 100 } = {}) {
  const source = new FakeSource()
  const feed = new Feed(source)
  const posted: ToRecorder[] = []
  const recorder = { closed: false, tell: (_message: FromRecorder) => {} }
  feed.start()
  source.info({ mount: 'x=cranial,y=left,z=dorsal' })
  let index = 0
  const next = (count = 10) => {
    vi.advanceTimersByTime((count / realHz) * 1000)
    source.packet(index, count, performance.now())
    index += count
  }
  while (index < watchedS * realHz) next()
  const recording = new Recording(
    {
      feed,
      session: { id: 's'.repeat(16), dogId: 'd', sensor: 'bluetooth' },
      dogName: 'Juniper',
      plan: null,
    },
    {
      serverUrl: 'http://test',
      open: (onMessage) => {
        recorder.tell = onMessage
        return { post: (message) => posted.push(message), close: () => (recorder.closed = true) }
      },
    },
  )
  const of = <Type extends ToRecorder['type']>(type: Type) =>
    posted.filter((message): message is Extract<ToRecorder, { type: Type }> => message.type === type)
  return { source, feed, recording, recorder, posted, next, of }
}

describe('recording', () => {
  test('begins with the next packet, counted from 0, and keeps what the sensor said of itself', () => {
    const { recording, next, of } = prepared({ watchedS: 2 })
    recording.start()
    expect(recording.phase).toBe('starting')
    next()
    next()
    expect(recording.phase).toBe('recording')
    expect(of('begin')[0].recording).toMatchObject({
      rateHz: 100,
      channels: 3,
      session: { mount: 'x=cranial,y=left,z=dorsal', sensorDescription: { name: 'Bench sensor' } },
    })
    expect(of('samples').map(({ firstIndex }) => firstIndex)).toEqual([0, 10])
  })

  test('takes the measured rate once 5 s were watched and it differs', () => {
    const { recording, next, of } = prepared({ watchedS: 6, realHz: 93 })
    recording.start()
    next()
    expect(of('begin')[0].recording.rateHz).toBe(93)
  })

  test('keeps the stated rate when there was no time to measure', () => {
    const { recording, next, of } = prepared({ watchedS: 3, realHz: 93 })
    recording.start()
    next()
    expect(of('begin')[0].recording.rateHz).toBe(100)
  })

  test('a wall clock that jumps moves nothing', () => {
    const { recording, next, of } = prepared({ watchedS: 6 })
    recording.start()
    next()
    vi.setSystemTime(START_MS + 3600_000)
    next()
    vi.setSystemTime(START_MS - 3600_000)
    next()
    const arrivals = of('samples').map(({ arrivedAtUs }) => arrivedAtUs)
    expect(arrivals[1] - arrivals[0]).toBe(100_000)
    expect(arrivals[2] - arrivals[1]).toBe(100_000)
    // Sample 0 was taken one period after the last one watched, 100 ms before its packet was complete.
    expect(of('begin')[0].recording.startedAtUs).toBe(arrivals[0] - 90_000)
  })

  test('a mark without a time is set now, and as far as the signal goes when there is none', () => {
    const { recording, next, of } = prepared()
    recording.start()
    next()
    vi.advanceTimersByTime(40)
    recording.mark('support-off')
    vi.advanceTimersByTime(60_000)
    recording.mark('support-on')
    recording.mark('note', 0.05, 'ears up')
    expect(of('mark').map(({ atS }) => Number(atS.toFixed(3)))).toEqual([0.14, 1.6, 0.05])
    expect(of('mark')[2]).toMatchObject({ kind: 'note', note: 'ears up' })
  })

  test("the source's own marks follow its clock, those in force when it begins come at 0", () => {
    const { source, recording, next, of } = prepared({ watchedS: 3 })
    source.mark({ kind: 'support-off', atS: 0.5 })
    recording.start()
    next()
    source.mark({ kind: 'support-on', atS: 3.05 })
    expect(of('mark').map(({ kind, atS }) => [kind, Number(atS.toFixed(3))])).toEqual([
      ['support-off', 0],
      ['support-on', 0.05],
    ])
  })

  test('finishing stops the sensor and ends once the recorder says that all is stored', () => {
    const { source, recording, recorder, next, of } = prepared()
    recording.start()
    next()
    recording.finish()
    expect(recording.phase).toBe('finishing')
    expect(source.stopped).toBe(1)
    expect(of('finish')).toHaveLength(1)
    recorder.tell({ type: 'finished' })
    expect(recording.phase).toBe('finished')
    expect(recorder.closed).toBe(true)
  })

  test('shows what the recorder tells about the outbox', () => {
    const { recording, recorder } = prepared()
    const progress = {
      status: 'waiting to reconnect' as const,
      recordedS: 12,
      unacknowledgedS: 3,
      keptOnDevice: false,
      lostSamples: 4,
      driftPpm: 40,
    }
    recorder.tell({ type: 'progress', progress })
    const { status, recordedS, unacknowledgedS, keptOnDevice, lostSamples, driftPpm } = recording
    expect({ status, recordedS, unacknowledgedS, keptOnDevice, lostSamples, driftPpm }).toEqual(progress)
  })

  test('a refusal ends it with the reason', () => {
    const { recording, recorder, next } = prepared()
    recording.start()
    next()
    recorder.tell({ type: 'refused', message: 'The rate changed.' })
    expect(recording.phase).toBe('failed')
    expect(recording.error).toContain('The rate changed.')
    expect(recording.deleted).toBe(false)
  })

  test('a session that was deleted elsewhere while it is recorded says so', () => {
    const { recording, recorder, next } = prepared()
    recording.start()
    next()
    recorder.tell({ type: 'refused', message: 'gone', code: 'SESSION_DELETED' })
    expect(recording.deleted).toBe(true)
    expect(recording.error).toContain('This session was deleted on the server')
  })

  test('its hold view is fed by the recorder of this browser, marks included', () => {
    const { recording, recorder, next, of } = prepared()
    recording.start()
    next()
    const session = new LiveSession(recordingLink(recording))
    session.start()
    expect(of('watch')).toHaveLength(1)
    session.mark('support-off')
    const [{ id, atS }] = of('mark')
    expect(session.handsOn).toBe(false)
    recorder.tell({
      type: 'view',
      message: { type: 'mark', mark: { id, atS, kind: 'support-off', note: null } },
    })
    expect(session.marks).toHaveLength(1)
    expect(session.unconfirmed).toHaveLength(0)
    recorder.tell({ type: 'finished' })
    expect(session.ended).toBe(true)
    session.close()
  })

  test('there is one at a time', () => {
    const desk = new RecordingDesk()
    desk.begin(prepared().recording)
    expect(() => desk.begin(prepared().recording)).toThrow('already recording')
  })
})
