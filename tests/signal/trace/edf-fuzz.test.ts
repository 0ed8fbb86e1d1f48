import { describe, expect, test } from 'vitest'
import fc from 'fast-check'
import { encodeUtf8, decodeUtf8 } from '../../../signal/trace/utf8.ts'
import { formatEdf } from '../../../signal/trace/edf-write.ts'
import { parseEdf } from '../../../signal/trace/edf-read.ts'
import { seeded } from './made-trace.ts'
import { TraceError } from '../../../signal/trace/trace-error.ts'
import type { UniformStretch } from '../../../signal/trace/trace.ts'

function stretch(startS: number, count: number): UniformStretch {
  const axis = (middle: number) => Float64Array.from({ length: count }, (_, i) => middle + Math.sin(i / 7))
  return {
    startS,
    acc: { x: axis(0), y: axis(1), z: axis(9.8) },
    gyr: { x: axis(0), y: axis(0), z: axis(0) },
  }
}

const file = (stretches: UniformStretch[]) =>
  formatEdf({
    rateHz: 50,
    stretches,
    startedAtUs: 1.77e15,
    marks: [
      { atS: 0.5, kind: 'support-off' },
      { atS: 2, kind: 'note', note: 'Juniper looks round' },
    ],
  })

/** Reads the bytes; true for a sound trace, false for a TraceError; anything else fails. */
function isRead(bytes: Uint8Array): boolean {
  try {
    const { trace } = parseEdf(bytes)
    expect(trace.rateHz > 0 && Number.isFinite(trace.rateHz)).toBe(true)
    for (const axis of [trace.acc.x, trace.acc.y, trace.acc.z]) {
      expect(axis.length).toBe(trace.t.length)
      expect(axis.every(Number.isFinite)).toBe(true)
    }
    expect(trace.t.every((tS, i) => Number.isFinite(tS) && (i === 0 || tS > trace.t[i - 1]))).toBe(true)
    expect(trace.marks.every(({ atS }) => Number.isFinite(atS))).toBe(true)
    return true
  } catch (error) {
    if (!(error instanceof TraceError)) throw error
    expect(error.message).toContain(error.remedy)
    return false
  }
}

describe('damaged EDF files', () => {
  test.each([
    ['EDF+C', file([stretch(0, 300)]), 71],
    ['EDF+D', file([stretch(0, 120), stretch(4.5, 60)]), 72],
  ])('%s: any byte of the header changed ends in a sound trace or a TraceError', (_, bytes, seed) => {
    const random = seeded(seed)
    const outcomes = { read: 0, refused: 0 }
    // Every byte of the header once, and 1500 drawn anywhere.
    for (let round = 0; round < 256 * 8 + 1500; round++) {
      const damaged = bytes.slice()
      const at = round < 256 * 8 ? round : Math.floor(random() * bytes.length)
      const likely = ' 0123456789-+.,eEX\0\x14\x15'
      damaged[at] =
        random() < 0.5 ? Math.floor(random() * 256) : likely.charCodeAt(Math.floor(random() * likely.length))
      outcomes[isRead(damaged) ? 'read' : 'refused']++
    }
    expect(outcomes.read).toBeGreaterThan(500)
    expect(outcomes.refused).toBeGreaterThan(100)
  })

  test('cut, doubled and moved parts end in a sound trace or a TraceError', () => {
    const random = seeded(73)
    const pick = (below: number) => Math.floor(random() * below)
    const bytes = file([stretch(0, 120), stretch(4.5, 60)])
    for (let round = 0; round < 1500; round++) {
      const at = pick(bytes.length)
      const some = bytes.subarray(at, at + pick(600))
      const kind = pick(4)
      if (kind === 0) isRead(bytes.subarray(0, at))
      else if (kind === 1)
        isRead(Uint8Array.of(...bytes.subarray(0, at), ...bytes.subarray(at + some.length)))
      else if (kind === 2) isRead(Uint8Array.of(...bytes.subarray(0, at), ...some, ...bytes.subarray(at)))
      else {
        const damaged = bytes.slice()
        damaged.set(some, pick(bytes.length - some.length))
        isRead(damaged)
      }
    }
  })
})

describe('UTF-8', () => {
  test('is written and read as the platform does it', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), (text) => {
        expect([...encodeUtf8(text)]).toEqual([...new TextEncoder().encode(text)])
        expect(decodeUtf8(encodeUtf8(text))).toBe(text)
      }),
      { seed: 74, numRuns: 500 },
    )
  })

  test('bytes that are no UTF-8 never stop the reading, and what is sound around them stays', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 20 }), (junk) => {
        expect(decodeUtf8(Uint8Array.of(0x61, ...junk, 0x62))).toMatch(/^a[^]*b$/)
      }),
      { seed: 75, numRuns: 1000 },
    )
    expect(decodeUtf8(Uint8Array.of(0xc0, 0x80, 0xed, 0xa0, 0x80, 0xf4, 0x90, 0x80, 0x80))).toMatch(
      /^\ufffd+$/,
    )
  })
})
