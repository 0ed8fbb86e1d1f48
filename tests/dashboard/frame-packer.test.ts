import { describe, expect, test } from 'vitest'
import { decodeFrame } from '#protocol/frames'
import { FramePacker, MAX_PACKED_SAMPLES } from '../../dashboard/recorder/frame-packer.ts'

const block = (firstIndex: number, count: number, channels = 3) =>
  Array.from({ length: channels }, (_, c) =>
    Float64Array.from({ length: count }, (_, i) => firstIndex + i + c / 8),
  )

const spans = (packer: FramePacker) => packer.drain().map(({ firstIndex, count }) => [firstIndex, count])

describe('frame packer', () => {
  test('makes one frame of a packet that is fetched at once', () => {
    const packer = new FramePacker({ channels: 3 })
    packer.take(0, block(0, 10), 5)
    const [frame] = packer.drain()
    const { values, ...header } = decodeFrame(frame.bytes!)
    expect(header).toEqual({ firstIndex: 0, count: 10, channels: 3, encoding: 'float32', arrivedAtUs: 5 })
    expect(values).toEqual(block(0, 10))
    expect(packer.drain()).toEqual([])
  })

  test('merges a backlog into few frames, with the arrival of the newest sample', () => {
    const packer = new FramePacker({ channels: 6 })
    for (let k = 0; k < 250; k++) packer.take(10 * k, block(10 * k, 10, 6), k)
    const frames = packer.drain().map(({ bytes }) => decodeFrame(bytes!))
    expect(frames.map(({ firstIndex, count }) => [firstIndex, count])).toEqual([
      [0, 1020],
      [1020, 1020],
      [2040, 460],
    ])
    expect(frames[2].arrivedAtUs).toBe(249)
    expect(frames[1].values[5]).toEqual(block(1020, 1020, 6)[5])
    // The server takes messages of 64 KiB at most.
    expect(MAX_PACKED_SAMPLES * 6 * 4 + 32).toBeLessThan(64 * 1024)
  })

  test('splits a packet that is larger than a frame may be', () => {
    const packer = new FramePacker({ channels: 3 })
    packer.take(0, block(0, 2500), 0)
    expect(spans(packer)).toEqual([
      [0, 1024],
      [1024, 1024],
      [2048, 452],
    ])
  })

  test('drops what came before and leaves out what never came', () => {
    const packer = new FramePacker({ channels: 3 })
    packer.take(0, block(0, 10), 0)
    packer.take(5, block(5, 10), 0)
    packer.take(20, block(20, 5), 0)
    packer.take(0, block(0, 5), 0)
    expect(spans(packer)).toEqual([
      [0, 15],
      [20, 5],
    ])
    expect(packer.nextIndex).toBe(25)
    expect(packer.lostSamples).toBe(5)
  })

  test('samples that are no numbers count as lost', () => {
    const packer = new FramePacker({ channels: 3 })
    const values = block(0, 10)
    values[1][4] = NaN
    values[2][5] = Infinity
    packer.take(0, values, 0)
    expect(spans(packer)).toEqual([
      [0, 4],
      [6, 4],
    ])
    expect(packer.lostSamples).toBe(2)
  })

  // 2^-11 m/s² and 2^-12 rad/s a count: exact in float32, so that the frame's own header costs nothing.
  const scale = { accMs2PerCount: 2 ** -11, gyrRadSPerCount: 2 ** -12 }

  test('whole counts travel as int16 and come back exactly, to the ends of the range', () => {
    const packer = new FramePacker({ channels: 6, scale })
    const counts = [-32768, -12345, -1, 0, 1, 32767]
    const values = Array.from({ length: 6 }, (_, c) =>
      Float64Array.from(counts, (count) => count * (c < 3 ? scale.accMs2PerCount : scale.gyrRadSPerCount)),
    )
    packer.take(0, values, 0)
    const [{ bytes }] = packer.drain()
    const frame = decodeFrame(bytes!)
    expect(frame.encoding).toBe('int16')
    expect(frame.values).toEqual(values)
    expect(bytes!.byteLength).toBe(32 + 6 * 6 * 2)
  })

  test.each([
    ['between two counts', 0.4 * scale.accMs2PerCount],
    ['beyond 16 bits', 32768 * scale.accMs2PerCount],
  ])('a value %s sends its frame as float32', (_, value) => {
    const packer = new FramePacker({ channels: 3, scale })
    packer.take(0, [Float64Array.of(0), Float64Array.of(value), Float64Array.of(0)], 0)
    const frame = decodeFrame(packer.drain()[0].bytes!)
    expect(frame.encoding).toBe('float32')
    expect(frame.values[1][0]).toBe(Math.fround(value))
  })

  test('refuses packets of another number of channels', () => {
    expect(() => new FramePacker({ channels: 6 }).take(0, block(0, 1), 0)).toThrow(
      'FramePacker.take requires 6 channels, got 3',
    )
  })
})
