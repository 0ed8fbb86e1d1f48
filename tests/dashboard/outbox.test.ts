import { describe, expect, test } from 'vitest'
import { Outbox } from '../../dashboard/lib/outbox.ts'

const bytes = (length = 100) => new Uint8Array(length)

function filled(frames: number, count = 10, limitBytes?: number) {
  const outbox = new Outbox({ limitBytes })
  for (let k = 0; k < frames; k++) outbox.push(k * count, count, bytes())
  return outbox
}

const takeAll = (outbox: Outbox) => {
  const taken = []
  for (let frame = outbox.take(); frame; frame = outbox.take()) taken.push(frame)
  return taken
}

describe('outbox', () => {
  test('gives each frame once, in order', () => {
    const outbox = filled(3)
    expect(takeAll(outbox).map((frame) => frame.firstIndex)).toEqual([0, 10, 20])
    expect(outbox.take()).toBeNull()
  })

  test('keeps what is sent until it is acknowledged', () => {
    const outbox = filled(3)
    takeAll(outbox)
    expect(outbox.unacknowledgedSamples).toBe(30)
    outbox.acknowledge(20)
    expect(outbox.unacknowledgedSamples).toBe(10)
    expect(outbox.outstandingFrames).toBe(1)
    outbox.acknowledge(30)
    expect(outbox.isEmpty).toBe(true)
  })

  test('an acknowledgement inside a frame keeps that frame', () => {
    const outbox = filled(2)
    outbox.acknowledge(15)
    expect(takeAll(outbox).map((frame) => frame.firstIndex)).toEqual([10])
  })

  test('after a reconnect everything the server lacks is given again', () => {
    const outbox = filled(4)
    takeAll(outbox)
    outbox.resumeFrom(20)
    expect(takeAll(outbox).map((frame) => frame.firstIndex)).toEqual([20, 30])
  })

  test('what the server lacks and nobody has any more is told as a loss', () => {
    const outbox = new Outbox({ fromIndex: 30 })
    outbox.push(30, 10, bytes())
    outbox.resumeFrom(10)
    expect(
      takeAll(outbox).map(({ firstIndex, count, bytes }) => [firstIndex, count, bytes !== null]),
    ).toEqual([
      [10, 20, false],
      [30, 10, true],
    ])
    expect(outbox.lostSamples).toBe(20)
  })

  test('an acknowledgement that comes twice changes nothing', () => {
    const outbox = filled(2)
    takeAll(outbox)
    outbox.acknowledge(10)
    outbox.acknowledge(10)
    expect(outbox.unacknowledgedSamples).toBe(10)
  })

  test('over its limit the oldest samples become one notice of loss', () => {
    const outbox = filled(5, 10, 250)
    expect(outbox.lostSamples).toBe(30)
    const frames = takeAll(outbox)
    expect(frames[0]).toEqual({ firstIndex: 0, count: 30, bytes: null })
    expect(frames.slice(1).map((frame) => frame.firstIndex)).toEqual([30, 40])
  })

  test('frames given up after they were sent do not shift what is sent next', () => {
    const outbox = filled(2, 10, 250)
    takeAll(outbox)
    outbox.push(20, 10, bytes())
    outbox.push(30, 10, bytes())
    expect(takeAll(outbox).map((frame) => frame.firstIndex)).toEqual([20, 30])
  })

  test('samples that never arrived are told in their place', () => {
    const outbox = filled(1)
    outbox.pushLost(5)
    outbox.push(15, 10, bytes())
    expect(takeAll(outbox).map(({ firstIndex, count }) => [firstIndex, count])).toEqual([
      [0, 10],
      [10, 5],
      [15, 10],
    ])
  })

  test('refuses a frame that overlaps or skips', () => {
    expect(() => filled(1).push(5, 10, bytes())).toThrow('push requires firstIndex 10, got 5')
    expect(() => filled(1).push(15, 10, bytes())).toThrow(RangeError)
  })
})
