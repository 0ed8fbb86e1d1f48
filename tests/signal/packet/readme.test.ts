import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { describe, expect, it } from 'vitest'
import { BUILT_IN_LAYOUTS } from '../../../signal/packet/built-in-layouts.ts'
import { readLayout } from '../../../signal/packet/check-layout.ts'
import { PacketDecoder } from '../../../signal/packet/decode.ts'
import { GENERIC_IMU, GENERIC_IMU_GYRO, GENERIC_IMU_SHORT } from '../../../signal/packet/generic-layout.ts'
import { PACKET_LAYOUT_SCHEMA } from '../../../signal/packet/layout-schema.ts'
import { PacketStream } from '../../../signal/packet/packet-stream.ts'
import { encodePacket, fromHex } from './packet-encoder.ts'

const file = (path: string) =>
  readFileSync(fileURLToPath(new URL(`../../../${path}`, import.meta.url)), 'utf8')
const readme = file('signal/packet/README.md')

/** An example: what the sentence before the bytes says, the bytes, and the table after them. */
interface Example {
  words: string
  bytes: DataView
  rows: string[][]
}

const examples: Example[] = [...readme.matchAll(/^(Layout `[^]*?)```hex\n([^]*?)```\n\n((?:\|.*\n)+)/gm)].map(
  ([, words, hex, table]) => ({
    words: words.replace(/\s+/g, ' '),
    bytes: fromHex(hex),
    rows: table
      .trim()
      .split('\n')
      .slice(2)
      .map((line) =>
        line
          .split('|')
          .slice(1, -1)
          .map((cell) => cell.trim()),
      ),
  }),
)

function stated(words: string, name: string): number | null {
  const found = words.match(new RegExp(`${name} (\\d+)`))
  return found && Number(found[1])
}

function layoutOf({ words }: Example) {
  const id = words.match(/Layout `([^`]+)`/)![1]
  const layout = BUILT_IN_LAYOUTS.find((known) => known.id === id)
  if (!layout) throw new Error(`the README names a layout ${id} that does not exist`)
  return layout
}

describe('the worked examples of the README', () => {
  it('are all there', () => {
    expect(
      examples.map((example) => [layoutOf(example).id, example.bytes.byteLength, example.rows.length]),
    ).toEqual([
      ['generic-imu-short', 20, 3],
      ['generic-imu-acc', 72, 10],
      ['generic-imu-acc-gyro', 36, 2],
      ['generic-imu-short', 20, 3],
      ['generic-imu-short', 20, 3],
      ['generic-imu-acc', 30, 3],
    ])
  })

  it.each(examples.map((example, k) => [k + 1, example] as const))(
    'example %i decodes to what is stated',
    (_, example) => {
      const { words, bytes, rows } = example
      const layout = layoutOf(example)
      const packet = new PacketDecoder(layout).decode(bytes)
      if (packet.kind === 'fault') throw new Error(packet.message)
      expect(bytes.byteLength).toBe(Number(words.match(/(\d+) bytes/)![1]))
      expect(packet.counter).toBe(stated(words, 'counter'))
      expect(packet.deviceTime).toBe(stated(words, 'device time'))
      expect(packet.flags).toBe(stated(words, 'flags'))
      expect(packet.count).toBe(rows.length)
      const modulo = 2 ** (layout === GENERIC_IMU_SHORT ? 16 : 32)
      rows.forEach(([sample, ...cells], i) => {
        expect(Number(sample)).toBe((packet.counter! + i) % modulo)
        if (cells[0] === 'no reading') expect(packet.lost).toContain(i)
        // The README rounds to four places.
        else
          cells.forEach((cell, c) =>
            expect(Math.abs(packet.values[c][i] - Number(cell))).toBeLessThan(0.000051),
          )
        expect(cells.length).toBe(packet.values.length)
      })
      expect(packet.lost.length).toBe(rows.filter(([, cell]) => cell === 'no reading').length)
    },
  )

  it('nothing is lost where the README says that nothing was lost over the wrap', () => {
    const [before, after] = examples.slice(3, 5)
    const stream = new PacketStream(GENERIC_IMU_SHORT)
    const decoder = new PacketDecoder(GENERIC_IMU_SHORT)
    const placed = [before, after].flatMap(({ bytes }, k) => {
      const packet = decoder.decode(bytes)
      return packet.kind === 'samples' ? stream.take(packet, 30 * k) : []
    })
    expect(placed.map(({ firstIndex, lostBefore }) => [firstIndex, lostBefore])).toEqual([
      [0, 0],
      [3, 0],
    ])
  })
})

describe('the README', () => {
  it('names the UUIDs, formats, offsets and sizes of the layouts as they are', () => {
    for (const layout of [GENERIC_IMU, GENERIC_IMU_GYRO, GENERIC_IMU_SHORT]) {
      expect(readme).toContain(`| \`${layout.characteristic}\` | ${layout.samples.strideBytes} bytes`)
      expect(readme).toContain(`| \`${layout.service}\` |`)
    }
    // Ten samples and the 3 bytes of a notification's own header.
    expect(readme).toContain(`MTU of ${12 + 10 * 6 + 3} or more`)
    expect(readme).toContain(`MTU of ${12 + 10 * 12 + 3} or more`)
    expect(readme).toContain(`${Math.floor((247 - 3 - 12) / 6)} samples (${Math.floor((247 - 3 - 12) / 12)}`)
    // Wraps: 2³² samples at 100 Hz, 2³² µs, 2¹⁶ samples at 100 Hz.
    expect(readme).toContain(`wraps after ${Math.round(2 ** 32 / 100 / 86400)} days`)
    expect(readme).toContain(`wraps after ${(2 ** 32 / 60e6).toFixed(1)} minutes`)
    expect(readme).toContain(`wraps after ${Math.floor(65536 / 100)} s`)
  })

  it('has a whole layout that loads and reads a packet of its kind', () => {
    const [, json] = readme.match(/```json layout\n([^]*?)```/)!
    const layout = readLayout(JSON.parse(json))
    const bytes = encodePacket(layout, {
      counter: 199,
      deviceTime: 123456,
      flags: 128,
      raw: [
        [0, 131072],
        [-131072, 0],
        [131072, -8388608],
      ],
    })
    const packet = new PacketDecoder(layout).decode(bytes)
    if (packet.kind === 'fault') throw new Error(packet.message)
    expect(packet).toMatchObject({ counter: 199, deviceTime: 123456, flags: 128, count: 2, lost: [1] })
    // 131072 counts are 1 g; the sign of the layout turns all round, its negative scale x once more.
    expect(packet.values.map(([value]) => value)).toEqual([
      expect.closeTo(0, 12),
      expect.closeTo(0.99 * 9.80665, 9),
      expect.closeTo(-9.80665, 9),
    ])
  })

  it('names every field of a layout', () => {
    const names = (node: object): string[] =>
      Object.entries(node).flatMap(([key, inner]) =>
        key === 'properties'
          ? Object.keys(inner as object).concat(names(inner as object))
          : typeof inner === 'object'
            ? names(inner as object)
            : [],
      )
    const table = readme.slice(readme.indexOf('| field '), readme.indexOf('A value is `raw'))
    for (const name of new Set(names(PACKET_LAYOUT_SCHEMA))) expect(table, name).toContain(name)
  })
})

it('the published schema is the one that is checked with', () => {
  expect(JSON.parse(file('dashboard/public/packet-layout.schema.json'))).toEqual(
    JSON.parse(JSON.stringify(PACKET_LAYOUT_SCHEMA)),
  )
})
