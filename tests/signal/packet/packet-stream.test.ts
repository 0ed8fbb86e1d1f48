import * as fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { DecodedPacket } from '../../../signal/packet/decode.ts'
import { GENERIC_IMU, GENERIC_IMU_SHORT } from '../../../signal/packet/generic-layout.ts'
import type { PacketHeader, PacketLayout } from '../../../signal/packet/layout.ts'
import { PacketStream } from '../../../signal/packet/packet-stream.ts'
import type { PlacedSamples } from '../../../signal/packet/packet-stream.ts'

const RATE_HZ = 100
const PER_PACKET = 10

/** A decoded packet whose x readings are the numbers of its samples, so that their place can be checked. */
function packet(from: number, over: Partial<DecodedPacket> = {}): DecodedPacket {
  const count = over.count ?? PER_PACKET
  return {
    kind: 'samples',
    counter: null,
    deviceTime: null,
    flags: null,
    count,
    values: [
      Float64Array.from({ length: count }, (_, i) => from + i),
      new Float64Array(count),
      new Float64Array(count),
    ],
    lost: [],
    ...over,
  }
}

function withHeader(header: PacketHeader | undefined): PacketLayout {
  return { ...GENERIC_IMU_SHORT, header }
}

const sampleCounter = (type: 'u8' | 'u16', refersTo: 'first' | 'last' = 'first') =>
  withHeader({ counter: { offset: 0, type, counts: 'samples', refersTo } })
const packetCounter = withHeader({ counter: { offset: 0, type: 'u8', counts: 'packets' } })

/** The samples with their indices, as [index, reading of x]. */
function places(placed: readonly PlacedSamples[]): [number, number][] {
  return placed.flatMap(({ firstIndex, values }) =>
    Array.from(values[0], (x, i): [number, number] => [firstIndex + i, x]),
  )
}

/** When the packet that starts with this sample comes over a perfect link, ms. */
const onTimeMs = (from: number) => ((from + PER_PACKET) * 1000) / RATE_HZ

describe('a counter of samples', () => {
  it('places every sample at its own number through wraps and losses of the counter', () => {
    // 8 bits: wraps every 26 packets.
    for (const refersTo of ['first', 'last'] as const) {
      const stream = new PacketStream(sampleCounter('u8', refersTo))
      const got: PlacedSamples[] = []
      const lostPackets = new Set([3, 4, 40, 41, 42, 99])
      for (let k = 0; k < 120; k++) {
        if (lostPackets.has(k)) continue
        const from = k * PER_PACKET
        const counter = (from + (refersTo === 'last' ? PER_PACKET - 1 : 0)) % 256
        got.push(...stream.take(packet(from, { counter }), onTimeMs(from)))
      }
      expect(places(got).every(([index, x]) => index === x)).toBe(true)
      expect(places(got).length).toBe((120 - lostPackets.size) * PER_PACKET)
      expect(stream.lostSamples).toBe(lostPackets.size * PER_PACKET)
      expect(got.filter(({ lostBefore }) => lostBefore > 0).map(({ lostBefore }) => lostBefore)).toEqual([
        20, 30, 10,
      ])
      expect(got.some(({ reckoned }) => reckoned)).toBe(false)
      expect(stream.lossUnknown).toBe(false)
    }
  })

  it('counts from 0 at the first packet, whatever its counter says', () => {
    const stream = new PacketStream(sampleCounter('u16'))
    const [placed] = stream.take(packet(0, { counter: 65530 }), 0)
    expect(placed).toMatchObject({ firstIndex: 0, lostBefore: 0, reckoned: false })
    expect(stream.take(packet(0, { counter: 4 }), 100)[0]).toMatchObject({ firstIndex: 10, lostBefore: 0 })
  })

  it('drops what comes twice or late, single packets and replays of several', () => {
    const stream = new PacketStream(sampleCounter('u16'))
    const take = (k: number, atMs: number) =>
      stream.take(packet(k * PER_PACKET, { counter: k * PER_PACKET }), atMs)
    for (let k = 0; k < 8; k++) take(k, k * 100)
    expect(take(7, 710)).toEqual([])
    for (const k of [4, 5, 6, 7]) expect(take(k, 720 + k)).toEqual([])
    expect(take(2, 790)).toEqual([])
    expect(places(take(8, 800))[0]).toEqual([80, 80])
    expect(stream.droppedPackets).toBe(6)
    expect(stream.lostSamples).toBe(0)
  })

  it('is exact for any losses and any delays of a link that keeps the order', () => {
    fc.assert(
      fc.property(
        fc.array(fc.boolean(), { minLength: 40, maxLength: 120 }),
        fc.array(fc.integer({ min: 0, max: 900 }), { minLength: 120, maxLength: 120 }),
        fc.integer({ min: 0, max: 65535 }),
        (isLost, delayMs, start) => {
          const stream = new PacketStream(sampleCounter('u16'))
          const got: PlacedSamples[] = []
          let first: number | null = null
          let arrivedMs = 0
          isLost.forEach((lost, k) => {
            if (lost) return
            const from = k * PER_PACKET
            first ??= from
            arrivedMs = Math.max(arrivedMs, onTimeMs(from) + delayMs[k])
            got.push(...stream.take(packet(from, { counter: (start + from) % 65536 }), arrivedMs))
          })
          expect(places(got).every(([index, x]) => index === x - first!)).toBe(true)
          expect(got.some(({ reckoned }) => reckoned)).toBe(false)
        },
      ),
      { seed: 20262, numRuns: 200 },
    )
  })

  it('keeps its place while the screen stands still and all comes at once', () => {
    const stream = new PacketStream(sampleCounter('u8'))
    const got: PlacedSamples[] = []
    for (let k = 0; k < 100; k++) {
      const from = k * PER_PACKET
      // From 3 s to 4 s nothing is handed over.
      const due = onTimeMs(from)
      got.push(...stream.take(packet(from, { counter: from % 256 }), due > 3000 && due < 4000 ? 4000 : due))
    }
    expect(places(got).every(([index, x]) => index === x)).toBe(true)
  })
})

describe('a counter of packets', () => {
  it('takes lost packets to hold as much as the one that follows', () => {
    const stream = new PacketStream(packetCounter)
    const got: PlacedSamples[] = []
    for (let k = 0; k < 600; k++) {
      if (k % 50 === 7) continue
      got.push(...stream.take(packet(k * PER_PACKET, { counter: k % 256 }), k * 100))
    }
    expect(places(got).every(([index, x]) => index === x)).toBe(true)
    expect(stream.lostSamples).toBe(12 * PER_PACKET)
  })
})

describe('what a counter cannot tell', () => {
  /** 20 s of steady packets, then the state at that moment. */
  function steady(layout: PacketLayout, rateHz = RATE_HZ) {
    const stream = new PacketStream(layout)
    const periodMs = (PER_PACKET * 1000) / rateHz
    const modulo = layout.header!.counter!.type === 'u8' ? 256 : 65536
    for (let k = 0; k < 200; k++) {
      const from = k * PER_PACKET
      stream.take(packet(from, { counter: from % modulo }), k * periodMs)
    }
    return { stream, lastMs: 199 * periodMs, nextIndex: 2000 }
  }

  it('is reckoned from the clock after a silence of half the modulo, at the rate that was measured', () => {
    // Nominal 100 Hz, truly 105 Hz; 8 bits wrap after 2.4 s.
    const { stream, lastMs, nextIndex } = steady(sampleCounter('u8'), 105)
    expect(stream.rateHz).toBeCloseTo(105, 6)
    const silentS = 30
    const [placed] = stream.take(packet(0, { counter: 77 }), lastMs + silentS * 1000)
    expect(placed.reckoned).toBe(true)
    const expected = nextIndex - PER_PACKET + silentS * 105
    expect(Math.abs(placed.firstIndex - expected)).toBeLessThanOrEqual(1)
    expect(placed.lostBefore).toBe(placed.firstIndex - nextIndex)
    // Then the counter leads again.
    const [after] = stream.take(packet(0, { counter: 87 }), lastMs + silentS * 1000 + 95)
    expect(after).toMatchObject({
      firstIndex: placed.firstIndex + PER_PACKET,
      lostBefore: 0,
      reckoned: false,
    })
  })

  it('is reckoned when the sensor began anew while the link was away', () => {
    const { stream, lastMs, nextIndex } = steady(sampleCounter('u16'))
    stream.linkRestored()
    const [placed] = stream.take(packet(0, { counter: 0 }), lastMs + 7000)
    expect(placed.reckoned).toBe(true)
    expect(placed.firstIndex).toBe(nextIndex - PER_PACKET + 700)
    expect(stream.take(packet(0, { counter: 10 }), lastMs + 7100)[0]).toMatchObject({
      firstIndex: placed.firstIndex + PER_PACKET,
      reckoned: false,
    })
  })

  it('is left to the counter when the sensor went on counting while the link was away', () => {
    const { stream, lastMs, nextIndex } = steady(sampleCounter('u16'))
    stream.linkRestored()
    const [placed] = stream.take(packet(0, { counter: nextIndex + 690 }), lastMs + 7000)
    expect(placed).toMatchObject({ firstIndex: nextIndex + 690, lostBefore: 690, reckoned: false })
  })

  it('is left to the counter when what waited in the sensor comes after the link', () => {
    // Five packets were kept by the sensor: the first of them is far behind the clock, but not lost.
    const { stream, lastMs, nextIndex } = steady(sampleCounter('u16'))
    stream.linkRestored()
    const [placed] = stream.take(packet(0, { counter: nextIndex }), lastMs + 600)
    expect(placed).toMatchObject({ firstIndex: nextIndex, reckoned: false })
  })

  it('is reckoned when packets behind their place run on for half a second: the counter began anew', () => {
    const { stream, lastMs, nextIndex } = steady(sampleCounter('u16'))
    const got: PlacedSamples[] = []
    let firstMs: number | null = null
    for (let k = 0; k < 20; k++) {
      const atMs = lastMs + 1000 + k * 100
      const placed = stream.take(packet(0, { counter: k * PER_PACKET }), atMs)
      if (placed.length > 0) firstMs ??= atMs
      got.push(...placed)
    }
    expect(firstMs).toBe(lastMs + 1500)
    expect(got[0]).toMatchObject({ reckoned: true, firstIndex: nextIndex - PER_PACKET + 150 })
    expect(got.slice(1).every(({ reckoned, lostBefore }) => !reckoned && lostBefore === 0)).toBe(true)
  })

  it('is reckoned when the counter jumps to samples that were not taken yet', () => {
    const { stream, lastMs, nextIndex } = steady(sampleCounter('u16'))
    const [placed] = stream.take(packet(0, { counter: nextIndex + 6000 }), lastMs + 200)
    expect(placed).toMatchObject({ reckoned: true, firstIndex: nextIndex + 10 })
  })

  it('never places a sample before one that came earlier, whatever the packets and times', () => {
    const headers: PacketHeader[] = [
      {},
      { counter: { offset: 0, type: 'u8', counts: 'samples', refersTo: 'last' } },
      { counter: { offset: 0, type: 'u8', counts: 'packets' } },
      { counter: { offset: 0, type: 'u16', counts: 'samples', modulo: 1000 } },
    ]
    const events = fc.array(
      fc.record({
        counter: fc.integer({ min: 0, max: 255 }),
        deviceTime: fc.option(fc.integer({ min: 0, max: 65535 })),
        count: fc.integer({ min: 1, max: 12 }),
        lost: fc.uniqueArray(fc.nat(11), { maxLength: 4 }),
        waitMs: fc.oneof(fc.nat(200), fc.nat(100_000), fc.constant(-50)),
        restored: fc.boolean(),
      }),
      { minLength: 1, maxLength: 60 },
    )
    fc.assert(
      fc.property(fc.constantFrom(...headers), events, (header, taken) => {
        const deviceTime = { offset: 4, type: 'u16', unitS: 1e-3, refersTo: 'first' } as const
        const stream = new PacketStream(withHeader({ ...header, deviceTime }))
        let atMs = 0
        let next = 0
        for (const { counter, waitMs, restored, lost, count, deviceTime: time } of taken) {
          atMs += waitMs
          if (restored) stream.linkRestored()
          const placed = stream.take(
            packet(0, {
              counter: header.counter ? counter : null,
              deviceTime: time,
              count,
              lost: lost.filter((i) => i < count).sort((a, b) => a - b),
            }),
            atMs,
          )
          for (const { firstIndex, values, lostBefore, deviceTimeS } of placed) {
            expect(Number.isSafeInteger(firstIndex)).toBe(true)
            expect(firstIndex).toBeGreaterThanOrEqual(next)
            expect(lostBefore).toBeGreaterThanOrEqual(0)
            expect(deviceTimeS === undefined || Number.isFinite(deviceTimeS)).toBe(true)
            next = firstIndex + values[0].length
          }
        }
        expect(Number.isFinite(stream.rateHz) && stream.rateHz > 0).toBe(true)
      }),
      { seed: 20263, numRuns: 500 },
    )
  })
})

describe('without a counter', () => {
  it('indices run on, and the stream says that loss would not be seen', () => {
    const stream = new PacketStream(withHeader(undefined))
    expect(stream.lossUnknown).toBe(true)
    stream.take(packet(0), 0)
    expect(stream.take(packet(0), 5000)[0]).toMatchObject({ firstIndex: 10, lostBefore: 0, reckoned: false })
  })

  it('a new connection is placed by the clock', () => {
    const stream = new PacketStream(withHeader(undefined))
    for (let k = 0; k < 100; k++) stream.take(packet(0), k * 100)
    stream.linkRestored()
    expect(stream.take(packet(0), 9900 + 4000)[0]).toMatchObject({ firstIndex: 990 + 400, reckoned: true })
  })
})

describe('samples that are no readings', () => {
  it('become gaps inside the packet, before it and after it', () => {
    const stream = new PacketStream(sampleCounter('u16'))
    const got = [
      ...stream.take(packet(0, { counter: 0, lost: [0, 4, 5, 9] }), 0),
      ...stream.take(packet(10, { counter: 10, lost: [0] }), 100),
      ...stream.take(packet(20, { counter: 20, lost: [0, 1, 2, 3, 4, 5, 6, 7, 8, 9] }), 200),
      ...stream.take(packet(30, { counter: 30 }), 300),
    ]
    expect(places(got).map(([index]) => index)).toEqual([
      ...[1, 2, 3, 6, 7, 8],
      ...[11, 12, 13, 14, 15, 16, 17, 18, 19],
      ...[30, 31, 32, 33, 34, 35, 36, 37, 38, 39],
    ])
    expect(places(got).every(([index, x]) => index === x)).toBe(true)
    // What precedes the first reading is not counted, as what precedes the first packet.
    expect(got.map(({ lostBefore }) => lostBefore)).toEqual([0, 2, 2, 10])
    expect(stream.lostSamples).toBe(14)
  })
})

describe('the device time', () => {
  const layout = (refersTo: 'first' | 'last') =>
    withHeader({
      counter: { offset: 0, type: 'u16', counts: 'samples' },
      deviceTime: { offset: 4, type: 'u16', unitS: 0.001, refersTo },
    })

  it('is that of the last sample, s, unwrapped', () => {
    for (const refersTo of ['first', 'last'] as const) {
      const stream = new PacketStream(layout(refersTo))
      // 16 bits of milliseconds wrap after 65.5 s.
      for (let k = 0; k < 1000; k++) {
        const from = k * PER_PACKET
        const deviceTime = ((from + (refersTo === 'last' ? PER_PACKET - 1 : 0)) * 10) % 65536
        const [placed] = stream.take(packet(from, { counter: from % 65536, deviceTime }), k * 100)
        expect(placed.deviceTimeS).toBeCloseTo((from + PER_PACKET - 1) / RATE_HZ, 6)
      }
    }
  })

  it('of a part of a packet is that of the last sample of the part', () => {
    const stream = new PacketStream(layout('last'))
    const placed = stream.take(packet(0, { counter: 0, deviceTime: 5000, lost: [4] }), 0)
    expect(placed.map(({ deviceTimeS }) => deviceTimeS)).toEqual([expect.closeTo(4.94, 9), 5])
  })

  it('goes on by the clock of the arrivals when the sensor began anew', () => {
    const stream = new PacketStream(layout('last'))
    for (let k = 0; k < 100; k++)
      stream.take(packet(0, { counter: k * 10, deviceTime: 20000 + k * 100 }), k * 100)
    stream.linkRestored()
    const [placed] = stream.take(packet(0, { counter: 0, deviceTime: 90 }), 9900 + 3000)
    expect(placed).toMatchObject({ reckoned: true, deviceTimeS: expect.closeTo(29.9 + 3, 9) })
  })

  it('is left out where the packet has none', () => {
    const stream = new PacketStream(GENERIC_IMU)
    expect(stream.take(packet(0, { counter: 0 }), 0)[0]).not.toHaveProperty('deviceTimeS')
  })
})
