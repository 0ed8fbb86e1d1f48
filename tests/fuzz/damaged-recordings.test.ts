import { describe, expect, it } from 'vitest'
import type { AnalyseOptions } from '#signal/report'
import type { ParseOptions } from '#signal/trace/parse'
import { decodeUtf8, encodeUtf8 } from '#signal/trace/utf8'
import { DAMAGES } from '../cli/damage.ts'
import { judge } from './oracle.ts'
import { below, pick, runRounds } from './rounds.ts'
import { SOURCES } from './sources.ts'

/** Mostly none, as people do. */
const PARSE_OPTIONS: readonly ParseOptions[] = [
  {},
  {},
  {},
  { rateHz: 50 },
  { unit: 'm/s2' },
  { columns: { t: 1, ax: 2, ay: 3, az: 4 } },
]
const ANALYSE_OPTIONS: readonly AnalyseOptions[] = [
  {},
  {},
  { mount: 'identity' },
  { mount: 'identity', interval: [0.2, 1.9] },
  { rateHz: 25 },
  { bands: [{ name: 'tremor', fromHz: 3, toHz: 24 }] },
]

describe('a real recording', () => {
  it('with cells, lines, columns, units, times or marks damaged is refused or measured in finite numbers', () => {
    const ends = runRounds(4000, (choose) => {
      const source = pick(SOURCES, choose)
      const damages = Array.from({ length: 1 + below(3, choose) }, () => pick(Object.keys(DAMAGES), choose))
      const text = damages.reduce((now, name) => DAMAGES[name](now, source.separator, choose), source.text)
      const parse = pick(PARSE_OPTIONS, choose)
      const options = pick(ANALYSE_OPTIONS, choose)
      const how = `${source.name}: ${damages.join(', ')}; ${JSON.stringify({ parse, options })}`
      return { text, how, judge: () => judge(text, parse, options) }
    })
    // Neither too coarse nor too fine: both ends are reached often.
    expect(ends.measured).toBeGreaterThan(400)
    expect(ends.refused).toBeGreaterThan(400)
  }, 240_000)

  it('with bytes flipped, changed, doubled, moved or lost is refused or measured in finite numbers', () => {
    const ends = runRounds(3000, (choose) => {
      const source = pick(SOURCES, choose)
      let bytes = encodeUtf8(source.text)
      const changes = 1 + below(3, choose)
      for (let i = 0; i < changes; i++) bytes = changed(bytes, choose)
      const text = decodeUtf8(bytes)
      return { text, how: `${source.name}: ${changes} changes of bytes`, judge: () => judge(text) }
    })
    expect(ends.measured).toBeGreaterThan(300)
    expect(ends.refused).toBeGreaterThan(300)
  }, 240_000)
})

const ZERO = 0x30
const NUMBER_BYTES = encodeUtf8('0123456789.,-+eE ')

function changed(bytes: Uint8Array, choose: () => number): Uint8Array {
  const at = below(bytes.length, choose)
  const piece = bytes.slice(at, at + 1 + below(120, choose))
  switch (below(10, choose)) {
    case 0:
      bytes[at] ^= 1 << below(8, choose)
      return bytes
    case 1:
      bytes[at] = below(256, choose)
      return bytes
    case 2:
      bytes.set(piece, below(bytes.length - piece.length + 1, choose))
      return bytes
    case 3:
      return joined(bytes.subarray(0, at), piece, bytes.subarray(at))
    case 4:
      return joined(bytes.subarray(0, at), bytes.subarray(at + piece.length))
    case 5:
      bytes[at] = pick(NUMBER_BYTES, choose)
      return bytes
    case 6:
    case 7:
    case 8:
      // Another digit is the damage that nothing shows.
      bytes[bytes.findIndex((byte, i) => i >= at && byte >= ZERO && byte < ZERO + 10)] =
        ZERO + below(10, choose)
      return bytes
    default:
      bytes.fill(below(256, choose), at, at + 1 + below(6, choose))
      return bytes
  }
}

function joined(...parts: Uint8Array[]): Uint8Array {
  const out = new Uint8Array(parts.reduce((n, part) => n + part.length, 0))
  let at = 0
  for (const part of parts) {
    out.set(part, at)
    at += part.length
  }
  return out
}
