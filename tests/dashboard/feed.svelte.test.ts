import { describe, expect, test, vi } from 'vitest'
import { LivePipeline } from '#signal/live/pipeline'
import type { LiveWindow } from '#signal/live/live-types'
import { createRandom } from '#signal/simulator/random'
import type { Mark } from '#signal/trace/trace'
import { Feed } from '../../dashboard/recorder/feed.svelte.ts'
import { marksInForce } from '../../dashboard/recorder/marks-in-force.ts'
import { RateMeter, streamRateHz } from '../../dashboard/recorder/rate-meter.ts'
import { STILLNESS_LIMIT_MS2, StillnessMeter } from '../../dashboard/recorder/stillness.ts'
import { FakeSource, packetOf } from './fakes/fake-source.ts'

const RATE_HZ = 100

/** Gravity along a tilted axis, sway of one frequency and noise: m/s². */
function standing(n: number, swayMs2: number) {
  const random = createRandom('standing')
  const noise = () => random.normal() * 0.01
  return {
    x: Float64Array.from(
      { length: n },
      (_, i) => 1 + swayMs2 * Math.sin((2 * Math.PI * 0.7 * i) / RATE_HZ) + noise(),
    ),
    y: Float64Array.from(
      { length: n },
      (_, i) => -0.5 + swayMs2 * Math.cos((2 * Math.PI * 0.4 * i) / RATE_HZ) + noise(),
    ),
    z: Float64Array.from({ length: n }, () => 9.7 + noise()),
  }
}

describe('stillness', () => {
  test('is the sway of the live analyser before a reference is known, hop by hop', () => {
    const acc = standing(450, 0.4)
    const windows: LiveWindow[] = []
    const pipeline = new LivePipeline({
      rateHz: RATE_HZ,
      sink: {
        onWindow: (window) => windows.push(window),
        onHold: () => {},
        onReference: () => {},
        onStrip: () => {},
        onStop: () => {},
      },
    })
    pipeline.push(0, acc)
    const meter = new StillnessMeter(RATE_HZ)
    const read: (number | null)[] = []
    for (let i = 0; i < 450; i++) {
      meter.push(i, acc.x[i], acc.y[i], acc.z[i])
      if ((i + 1) % 10 === 0) read[(i + 1) / 10] = meter.read().swayMs2
    }
    // The first look for a reference comes after 5 s; the first 2 s window ends at 2 s.
    const compared = windows.filter(({ endS }) => endS >= 2)
    expect(compared.length).toBeGreaterThan(20)
    for (const { endS, swayMs2 } of compared) {
      // Sums in another order: equal but for rounding.
      expect(read[Math.round(endS * 10)]).toBeCloseTo(swayMs2!, 9)
    }
  })

  test('counts how long it has lasted, and starts anew after motion', () => {
    const meter = new StillnessMeter(RATE_HZ)
    let i = 0
    const push = (seconds: number, swayMs2: number) => {
      const { x, y, z } = standing(seconds * RATE_HZ, swayMs2)
      for (let k = 0; k < x.length; k++) meter.push(i++, x[k], y[k], z[k])
      return meter.read()
    }
    const readings = [1, 2, 3, 4, 5].map(() => push(1, 0.02))
    expect(readings[0].swayMs2).toBeNull()
    expect(readings.map(({ stillForS }) => Math.round(stillForS))).toEqual([0, 2, 3, 4, 5])
    expect(readings[4].limitMs2).toBe(STILLNESS_LIMIT_MS2)
    const moving = push(2, 2)
    expect(moving.swayMs2).toBeGreaterThan(STILLNESS_LIMIT_MS2)
    expect(moving.stillForS).toBe(0)
  })

  test('says nothing about 2 s of which more than a tenth is missing', () => {
    const meter = new StillnessMeter(RATE_HZ)
    const { x, y, z } = standing(300, 0.02)
    for (let k = 0; k < 300; k++) if (k < 200 || k >= 230) meter.push(k, x[k], y[k], z[k])
    expect(meter.read().swayMs2).toBeNull()
  })
})

describe('the rate of a sensor', () => {
  const watched = (seconds: number, realHz: number, deviceTime = false) => {
    const meter = new RateMeter(RATE_HZ)
    const random = createRandom('arrivals')
    for (let k = 0; k * 10 < seconds * realHz; k++) {
      const takenS = (10 * k + 9) / realHz
      // A radio delivers late, never early; now and then much later.
      const lateMs = 45 * random.uniform(0, 1) + (k % 37 === 0 ? 300 : 0)
      meter.add({
        ...packetOf(10 * k, 10, takenS * 1000 + lateMs),
        ...(deviceTime && { deviceTimeS: 500 + takenS }),
      })
    }
    return meter.measuredRateHz
  }

  test('is unknown before 5 s', () => expect(watched(4.5, 93)).toBeNull())

  test('is found through the jitter of the arrivals within 0.2 % in 20 s', () => {
    expect(Math.abs(watched(20, 93)! / 93 - 1)).toBeLessThan(0.002)
  })

  test('comes from the time stamps of the sensor when it has them, exactly', () => {
    expect(watched(6, 93, true)).toBeCloseTo(93, 6)
  })

  test('becomes that of the stream, to two decimals, when it differs by more than 0.5 %', () => {
    expect(streamRateHz(100, null)).toBe(100)
    expect(streamRateHz(100, 100.49)).toBe(100)
    expect(streamRateHz(100, 99.51)).toBe(100)
    expect(streamRateHz(100, 93.1239)).toBe(93.12)
  })
})

describe('marks in force', () => {
  const mark = (kind: Mark['kind'], atS: number): Mark => ({ kind, atS })

  test('are the last word on the hands, and what was begun and not ended', () => {
    const marks = [
      mark('support-on', 0),
      mark('quiet-stand-start', 1),
      mark('quiet-stand-end', 11),
      mark('support-off', 12),
      mark('repetition-start', 13),
      mark('note', 14),
    ]
    expect(marksInForce(marks)).toEqual([marks[3], marks[4]])
    expect(marksInForce(marks.slice(0, 2))).toEqual([marks[0], marks[1]])
    expect(marksInForce([])).toEqual([])
  })
})

describe('feed', () => {
  test('shows what the sensor does and hands its packets on', () => {
    const source = new FakeSource()
    const feed = new Feed(source)
    const taken: number[] = []
    feed.start()
    const unsubscribe = feed.subscribe({ onPacket: ({ firstIndex }) => taken.push(firstIndex) })
    source.info()
    source.state('streaming', 'It sends.')
    for (let k = 0; k < 60; k++) source.packet(10 * k, 10, 100 * k)
    unsubscribe()
    source.packet(620, 10, 6200)
    expect(feed.state).toEqual({ phase: 'streaming', words: 'It sends.' })
    expect(taken).toHaveLength(60)
    expect(feed.measuredRateHz).toBeCloseTo(100, 3)
    expect(feed.accelerationMs2).toBeCloseTo(9.75, 6)
    expect(feed.stillness.swayMs2).toBeCloseTo(0, 6)
    expect(feed.lossShare).toBeCloseTo(20 / 630, 6)
    expect(feed.battery).toBe(80)
  })

  test('says nothing more once it is stopped', () => {
    const source = new FakeSource()
    const feed = new Feed(source)
    const onPacket = vi.fn()
    feed.start()
    feed.subscribe({ onPacket })
    source.info()
    feed.stop()
    source.packet(0, 10, 0)
    source.state('streaming', 'It sends.')
    expect(onPacket).not.toHaveBeenCalled()
    expect(source.stopped).toBe(1)
    expect(feed.state.phase).toBe('ended')
  })
})
