import type { MarkKind } from '#signal/trace/trace'
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import type { Snapshot } from '#protocol/messages'
import type { LiveWindow } from '#signal/live/live-types'
import { remoteLink } from '../../dashboard/lib/live-link.ts'
import { LiveSession } from '../../dashboard/lib/live-session.svelte.ts'
import { fakeSockets } from './fakes/fake-socket.ts'

beforeEach(() => void vi.useFakeTimers())
afterEach(() => void vi.useRealTimers())

function watching() {
  const fake = fakeSockets()
  const session = new LiveSession(remoteLink('ws://test/', { create: fake.create, random: () => 0 }))
  session.start()
  fake.newest.open()
  return { fake, session }
}

const snapshot = (extra: Partial<Snapshot> = {}): Snapshot => ({
  type: 'snapshot',
  protocol: 1,
  session: 's',
  dogName: 'Juniper',
  rateHz: 100,
  startedAtUs: 0,
  headingResolved: true,
  receivedS: 12,
  reference: null,
  holds: [],
  marks: [],
  window: null,
  history: [],
  strips: [],
  planned: null,
  limits: {
    sessionCapS: null,
    maxRepetitions: null,
    swayRatio: null,
    holdRatio: null,
    supportRise: null,
    basis: 'none',
  },
  stops: [],
  ...extra,
})

const window = (index: number, extra: Partial<LiveWindow> = {}): LiveWindow => ({
  index,
  endS: index / 10 + 1,
  state: 'steady',
  holdS: 2,
  motion: 0.4,
  tiltDeg: 1,
  swayMs2: 0.02,
  tremorMs2: 0.01,
  coverage: 1,
  ...extra,
})

const windowMessage = (index: number, extra: Partial<LiveWindow> = {}) => ({
  type: 'window',
  window: window(index, extra),
  strips: [],
  sampleArrivedAtUs: 1_000_000,
  serverTimeUs: 1_040_000,
})

describe('live session', () => {
  test('has no signal until a window arrives, even when the snapshot holds one', () => {
    const { fake, session } = watching()
    fake.newest.receive(snapshot({ window: window(5) }))
    expect(session.dogName).toBe('Juniper')
    expect(session.state).toBe('no signal')
    fake.newest.receive(windowMessage(6))
    expect(session.state).toBe('steady')
    session.close()
  })

  test('has no signal once 1.5 s passed without a window', () => {
    const { fake, session } = watching()
    fake.newest.receive(snapshot())
    fake.newest.receive(windowMessage(0))
    vi.advanceTimersByTime(1400)
    expect(session.state).toBe('steady')
    vi.advanceTimersByTime(600)
    expect(session.state).toBe('no signal')
    expect(session.readout()).toEqual({ swayMs2: null, tremorMs2: null })
    session.close()
  })

  test('has no signal as soon as the sender is gone', () => {
    const { fake, session } = watching()
    fake.newest.receive(snapshot())
    fake.newest.receive(windowMessage(0))
    fake.newest.receive({ type: 'sender', connected: false })
    expect(session.state).toBe('no signal')
    session.close()
  })

  test('a mark made here shows at once and stays one mark when the server confirms it', () => {
    const { fake, session } = watching()
    fake.newest.receive(snapshot())
    fake.newest.receive(windowMessage(40))
    session.mark('support-off')
    expect(session.handsOn).toBe(false)
    const sent = fake.newest.sent.find((item) => (item as { type: string }).type === 'mark') as {
      id: string
      atS: number
    }
    // The newest window ends at 5 s and was 40 ms old when it left the server.
    expect(sent.atS).toBeCloseTo(5.04, 6)
    fake.newest.receive({
      type: 'mark',
      mark: { id: sent.id, atS: sent.atS, kind: 'support-off', note: null },
    })
    fake.newest.receive({ type: 'marked', id: sent.id })
    expect(session.marks).toHaveLength(1)
    expect(session.unconfirmed).toHaveLength(0)
    session.close()
  })

  test('an unconfirmed mark is sent again with its id after a reconnect', () => {
    const { fake, session } = watching()
    fake.newest.receive(snapshot())
    session.mark('repetition-start')
    const mark = fake.newest.sent.at(-1)
    fake.newest.lose()
    session.retryNow()
    fake.newest.open()
    expect(fake.newest.sent).toContainEqual(mark)
    expect(session.repetition).toEqual({ count: 1, running: true })
    session.close()
  })

  test('a hold told again replaces what was known of it', () => {
    const { fake, session } = watching()
    fake.newest.receive(snapshot())
    fake.newest.receive({ type: 'hold', hold: { id: 0, fromS: 3, toS: null, endedBy: null } })
    fake.newest.receive({ type: 'hold', hold: { id: 0, fromS: 3, toS: 9, endedBy: 'step' } })
    expect(session.holds).toEqual([{ id: 0, fromS: 3, toS: 9, endedBy: 'step' }])
    session.close()
  })

  test('a new floor reference starts the list of holds anew', () => {
    const { fake, session } = watching()
    fake.newest.receive(snapshot({ holds: [{ id: 0, fromS: 1, toS: 3, endedBy: 'step' }] }))
    fake.newest.receive({
      type: 'reference',
      reference: { fromS: 4, toS: 14, swayMs2: 0.01, gravityMs2: 9.8 },
    })
    expect(session.holds).toEqual([])
    session.close()
  })

  test('numbers to read are means over half a second', () => {
    const { fake, session } = watching()
    fake.newest.receive(snapshot())
    for (let k = 0; k < 10; k++) fake.newest.receive(windowMessage(k, { swayMs2: k }))
    expect(session.readout().swayMs2).toBe(7)
    session.close()
  })

  test('a quiet stand is under way from its start mark to its end, or to the first repetition', () => {
    const { fake, session } = watching()
    const mark = (id: string, atS: number, kind: MarkKind) => ({ id, atS, kind, note: null })
    fake.newest.receive(snapshot())
    expect(session.quietStand).toBe(false)
    fake.newest.receive({ type: 'mark', mark: mark('a', 0, 'quiet-stand-start') })
    expect(session.quietStand).toBe(true)
    fake.newest.receive({ type: 'mark', mark: mark('b', 10, 'quiet-stand-end') })
    expect(session.quietStand).toBe(false)
    fake.newest.receive({ type: 'mark', mark: mark('c', 30, 'quiet-stand-start') })
    fake.newest.receive({ type: 'mark', mark: mark('d', 50, 'repetition-start') })
    expect(session.quietStand).toBe(false)
    session.close()
  })

  test('the waveform lands in the ring on its own grid', () => {
    const { fake, session } = watching()
    fake.newest.receive(snapshot({ strips: [{ fromS: 1, stepS: 0.05, ml: [1, 2], cc: [3, 4] }] }))
    expect(session.ring.end).toBe(22)
    expect(session.ring.at(1, 21)).toBe(4)
    session.close()
  })
})
