import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import { PhoneSource } from '../../../dashboard/sources/phone/phone-source'
import type { FlatPhone } from '../../../dashboard/sources/phone/flat-step'
import type { SourceInfo, SourcePacket, SourceState } from '../../../dashboard/sources/source'
import { motionEvent } from './made-motion'

const PHONE: FlatPhone = { sign: 1, rateHz: 60, channels: 6, resolutionMs2: 0.1, noiseMs2: 0 }

function made(changes: Partial<FlatPhone> = {}) {
  const clock = { nowMs: 1000 }
  const document = Object.assign(new EventTarget(), { visibilityState: 'visible' as DocumentVisibilityState })
  const page = Object.assign(new EventTarget(), {
    isSecureContext: true,
    performance: { now: () => clock.nowMs },
    document,
  })
  const source = new PhoneSource(
    { phone: { ...PHONE, ...changes }, mount: 'y=cranial,z=dorsal' },
    page as never,
  )
  const infos: SourceInfo[] = []
  const packets: SourcePacket[] = []
  const states: SourceState[] = []
  source.start({
    onInfo: (info) => infos.push(info),
    onPacket: (packet) => packets.push(packet),
    onState: (state) => states.push(state),
    onMark: () => undefined,
    onEnd: () => undefined,
  })
  const send = (
    atMs: number,
    acc: readonly [number, number, number] = [0, 0, 9.8],
    rate: readonly [number, number, number] | null = [0, 0, 0],
  ) => {
    clock.nowMs = atMs
    page.dispatchEvent(motionEvent(atMs, acc, rate))
  }
  const stream = (count: number, fromMs = 1000) => {
    for (let i = 0; i < count; i++) send(fromMs + (i * 1000) / 60)
  }
  const wait = (ms: number) => {
    clock.nowMs += ms
    vi.advanceTimersByTime(ms)
  }
  const hide = (hidden: boolean) => {
    document.visibilityState = hidden ? 'hidden' : 'visible'
    document.dispatchEvent(new Event('visibilitychange'))
  }
  const indices = () =>
    packets.flatMap(({ firstIndex, values }) => [...values[0].keys()].map((i) => firstIndex + i))
  return { source, infos, packets, states, send, stream, wait, hide, indices }
}

beforeEach(() => void vi.useFakeTimers())
afterEach(() => void vi.useRealTimers())

describe('PhoneSource', () => {
  it('tells rate, channels, resolution and mount before its first packet', () => {
    const { infos, packets } = made()
    expect(packets).toEqual([])
    expect(infos).toMatchObject([
      { nominalRateHz: 60, channels: 6, resolutionMs2: 0.1, mount: 'y=cranial,z=dorsal' },
    ])
  })

  it('gives specific force of a mirroring engine, and its rotation as it is', () => {
    const { packets, send } = made({ sign: -1 })
    for (let i = 0; i < 6; i++) send(1000 + (i * 1000) / 60, [0.1, -0.2, -9.8], [180, 0, -90])
    const [{ values }] = packets
    expect(values.map((channel) => channel[0])).toEqual([
      -0.1,
      0.2,
      9.8,
      expect.closeTo(Math.PI),
      0,
      expect.closeTo(-Math.PI / 2),
    ])
  })

  it('gives three channels for a phone without a gyroscope', () => {
    const { packets, send } = made({ channels: 3 })
    for (let i = 0; i < 6; i++) send(1000 + (i * 1000) / 60, [0, 0, 9.8], null)
    expect(packets[0].values).toHaveLength(3)
  })

  it('shows events that did not come as a jump of the index, and invents none', () => {
    const { source, send, stream, indices } = made()
    stream(30)
    send(1000 + (45 * 1000) / 60)
    send(1000 + (46 * 1000) / 60)
    source.stop()
    expect(indices()).toEqual([...Array.from({ length: 30 }, (_, i) => i), 45, 46])
  })

  it('counts an event without rotation, where there was some, as one that never came', () => {
    const { source, send, indices } = made()
    send(1000)
    send(1016.7, [0, 0, 9.8], null)
    send(1033.3)
    source.stop()
    expect(indices()).toEqual([0, 2])
  })

  it('says that nothing comes after 1.5 s, and that it comes again', () => {
    const { states, stream, wait } = made()
    stream(60)
    expect(states.at(-1)).toMatchObject({ phase: 'streaming' })
    wait(2100)
    expect(states.at(-1)).toMatchObject({
      phase: 'stalled',
      words: expect.stringContaining('no motion data'),
    })
    stream(6, 5000)
    expect(states.at(-1)).toMatchObject({ phase: 'streaming' })
  })

  it('says why a hidden page measures nothing, at once', () => {
    const { states, stream, hide } = made()
    stream(60)
    hide(true)
    expect(states.at(-1)).toMatchObject({
      phase: 'stalled',
      words: expect.stringContaining('page is hidden'),
    })
    hide(false)
    expect(states.at(-1)).toMatchObject({ phase: 'streaming' })
  })

  it('says so when the phone becomes too uneven, and goes on', () => {
    const { states, packets, send } = made()
    let atMs = 1000
    for (let i = 0; i < 1200; i++) send((atMs += i % 12 === 0 ? 70 : 1000 / 60))
    vi.advanceTimersByTime(500)
    expect(states.at(-1)).toMatchObject({
      phase: 'streaming',
      words: expect.stringContaining('too unevenly'),
    })
    expect(packets.length).toBeGreaterThan(100)
  })

  it('is silent after stop, and hands over what it still held at it', () => {
    const { source, packets, send, indices } = made()
    send(1000)
    expect(packets).toHaveLength(0)
    source.stop()
    expect(indices()).toEqual([0])
    send(1016.7)
    expect(indices()).toEqual([0])
  })
})
