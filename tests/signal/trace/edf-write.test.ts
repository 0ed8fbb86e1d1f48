import { describe, expect, test } from 'vitest'
import fc from 'fast-check'
import { formatEdf } from '../../../signal/trace/edf-write.ts'
import { MARK_KINDS } from '../../../signal/trace/trace.ts'
import { numberField } from '../../../signal/trace/edf-field.ts'
import { parseEdf } from '../../../signal/trace/edf-read.ts'
import { recordSize } from '../../../signal/trace/edf-records-size.ts'
import { seededNormal } from './made-trace.ts'
import type { EdfRecording } from '../../../signal/trace/edf-write.ts'
import type { Mark, UniformStretch, Vector3Series } from '../../../signal/trace/trace.ts'

const START_US = Date.UTC(2026, 2, 2, 10, 20, 30) * 1000 + 123_456

function series(
  count: number,
  seed: number,
  middle: [number, number, number],
  spread: number,
): Vector3Series {
  const normal = seededNormal(seed)
  const axis = (value: number) => Float64Array.from({ length: count }, () => value + spread * normal())
  return { x: axis(middle[0]), y: axis(middle[1]), z: axis(middle[2]) }
}

/** Stretches of so many samples, each 1.234567 s after the end of the one before. */
function recording(
  lengths: number[],
  rateHz: number,
  more: Partial<EdfRecording> = {},
  seed = 1,
): EdfRecording {
  let startS = 0
  const stretches = lengths.map((count, i): UniformStretch => {
    const stretch = { startS, acc: series(count, seed + i, [0.1, -0.2, 9.8], 0.3) }
    startS += count / rateHz + 1.234567
    return stretch
  })
  return { rateHz, stretches, marks: [], startedAtUs: START_US, ...more }
}

const text = (bytes: Uint8Array, from: number, length: number) =>
  new TextDecoder().decode(bytes.subarray(from, from + length)).trimEnd()

/** Half a step of each signal, from the header: (physical maximum − minimum) / 65535 / 2. */
function halfStep(bytes: Uint8Array, signal: number): number {
  const count = Number(text(bytes, 252, 4))
  const at = (before: number) => Number(text(bytes, 256 + before * count + 8 * signal, 8))
  return (at(112) - at(104)) / 65535 / 2
}

/** Reads the file back and compares everything with what was written. */
function expectSame(written: EdfRecording): void {
  const bytes = formatEdf(written)
  const { trace } = parseEdf(bytes, { unit: 'm/s2' })
  const { stretches, rateHz } = written
  const times = stretches.flatMap(({ startS, acc }) =>
    [...acc.x].map((_, i) => startS - stretches[0].startS + i / rateHz),
  )
  expect(trace.t.length).toBe(times.length)
  // 8 characters of duration are good for 1 part in a million of a record of up to 5 s; stamps for 0.1 µs.
  const worstS = times.reduce((worst, tS, i) => Math.max(worst, Math.abs(trace.t[i] - tS)), 0)
  expect(worstS).toBeLessThanOrEqual(stretches.length > 1 ? 6e-6 : 1e-7 + 1e-6 * times[times.length - 1])
  const channels = (['x', 'y', 'z'] as const).flatMap((axis, signal) => [
    { signal, got: trace.acc[axis], of: (stretch: UniformStretch) => stretch.acc[axis] },
    ...(trace.gyr
      ? [{ signal: signal + 3, got: trace.gyr[axis], of: (stretch: UniformStretch) => stretch.gyr![axis] }]
      : []),
  ])
  for (const { signal, got, of } of channels) {
    const expected = stretches.flatMap((stretch) => [...of(stretch)])
    const worst = expected.reduce((most, value, i) => Math.max(most, Math.abs(got[i] - value)), 0)
    expect(worst).toBeLessThanOrEqual(halfStep(bytes, signal) * (1 + 1e-9) + 1e-12)
  }
  expect(trace.startedAtUs).toBe(
    written.startedAtUs === null ? null : written.startedAtUs + Math.round(stretches[0].startS * 1e6),
  )
}

describe('what is written reads back', () => {
  test.each([
    ['even seconds', [1000], 100],
    ['a prime number of samples', [1009], 100],
    ['a rate that is no whole number', [5000], 99.98734],
    ['104 Hz', [3001], 104],
    ['gaps', [300, 250, 421], 50],
    ['gaps between stretches of prime lengths', [331, 257, 421], 52],
    ['a long recording', [60_001], 200],
  ])('%s: every sample within half a quantisation step, at its time', (_, lengths, rateHz) => {
    expectSame(recording(lengths, rateHz))
  })

  test('any lengths, rates and starts', () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: 40, max: 700 }), { minLength: 1, maxLength: 4 }),
        fc.oneof(fc.constantFrom(25, 50, 52, 100, 104, 200), fc.double({ min: 20, max: 220, noNaN: true })),
        fc.oneof(fc.constant(null), fc.integer({ min: 0, max: 4e15 })),
        fc.integer({ min: 1, max: 1e6 }),
        (lengths, rateHz, startedAtUs, seed) => {
          const total = lengths.reduce((sum, length) => sum + length, 0)
          fc.pre((lengths.length > 1 ? 1.2 : (total - 1) / rateHz) >= 1)
          expectSame(recording(lengths, rateHz, { startedAtUs }, seed))
        },
      ),
      { seed: 61, numRuns: 120 },
    )
  })

  test('the gyroscope too', () => {
    const { stretches, ...rest } = recording([600, 500], 100)
    const withGyr = stretches.map((stretch, i) => ({
      ...stretch,
      gyr: series(stretch.acc.x.length, 90 + i, [0, 0.02, -0.01], 0.4),
    }))
    expectSame({ ...rest, stretches: withGyr })
  })

  test('marks come back with kind, note and time to 0.1 µs', () => {
    const marks: Mark[] = [
      { atS: -0.5, kind: 'note', note: 'before the first sample' },
      ...MARK_KINDS.map((kind, i) => ({ atS: Number(`0.${i}234567`), kind })),
      { atS: 3, kind: 'repetition-start', note: 'Juniper: on the pad' },
      { atS: 3, kind: 'note', note: 'support-on' },
      { atS: 3.5, kind: 'note', note: 'note: more' },
      { atS: 4, kind: 'note', note: 'Übung — 犬, naïve 🐕\nsecond line' },
      { atS: 5, kind: 'note', note: '' },
      { atS: 99, kind: 'walk-end' },
    ]
    const { trace } = parseEdf(formatEdf(recording([700], 100, { marks })))
    expect(trace.marks).toEqual(marks)
    const withGaps = parseEdf(formatEdf(recording([137, 211, 140], 100, { marks })))
    expect(withGaps.trace.marks).toEqual(marks)
  })

  test('characters that would end an annotation become blanks', () => {
    const marks: Mark[] = [{ atS: 1, kind: 'note', note: 'a\x14b\0c\x15d\ud800e' }]
    const { trace } = parseEdf(formatEdf(recording([500], 100, { marks })))
    expect(trace.marks).toEqual([{ atS: 1, kind: 'note', note: 'a b c d\ufffde' }])
  })

  test.each([-330, 0, 60, 825])(
    'the header holds local time %d min from UTC, and the moment comes back',
    (min) => {
      const bytes = formatEdf(recording([500], 100, { utcOffsetMin: min }))
      const local = new Date(START_US / 1000 + min * 60_000).toISOString()
      expect(text(bytes, 176, 8)).toBe(local.slice(11, 19).replaceAll(':', '.'))
      expect(parseEdf(bytes).trace.startedAtUs).toBe(START_US)
    },
  )
})

describe('the file', () => {
  test('is an anonymous EDF+C header with the fields where the specification puts them', () => {
    const bytes = formatEdf(recording([1000], 100))
    expect(text(bytes, 0, 8)).toBe('0')
    expect(text(bytes, 8, 80)).toBe('X X X X')
    expect(text(bytes, 88, 80)).toBe('Startdate 02-MAR-2026 X X X UTC')
    expect(text(bytes, 168, 16)).toBe('02.03.2610.20.30')
    expect(text(bytes, 184, 8)).toBe(String(256 * 5))
    expect(text(bytes, 192, 44)).toBe('EDF+C')
    expect(text(bytes, 236, 20)).toBe('10      1       4')
    expect(text(bytes, 256, 64)).toBe('Acc X           Acc Y           Acc Z           EDF Annotations')
    expect(text(bytes, 256 + 96 * 4, 24)).toBe('m/s^2   m/s^2   m/s^2')
    expect([...bytes.subarray(0, 256 * 5)].every((byte) => byte >= 32 && byte <= 126)).toBe(true)
    const first = 256 * 5 + 600
    expect(new TextDecoder().decode(bytes.subarray(first, first + 12))).toBe('+0.123456\x14\x14\0')
  })

  test('says EDF+D when there are gaps', () => {
    expect(text(formatEdf(recording([500, 500], 100)), 192, 44)).toBe('EDF+D')
  })

  test('uses the whole digital range of each signal and clips nothing', () => {
    const bytes = formatEdf(recording([3000], 100))
    const view = new DataView(bytes.buffer)
    const recordBytes = (bytes.length - 256 * 5) / Number(text(bytes, 236, 8))
    const digital = Array.from({ length: 3000 }, (_, i) =>
      view.getInt16(256 * 5 + Math.floor(i / 100) * recordBytes + 2 * (i % 100), true),
    )
    // 8 characters hold the range of about 2 m/s² to 1e-6, far less than a step of 3e-5.
    expect(Math.min(...digital)).toBe(-32768)
    expect(Math.max(...digital)).toBe(32767)
  })

  test('holds a constant signal', () => {
    const still = {
      x: new Float64Array(200),
      y: new Float64Array(200),
      z: new Float64Array(200).fill(9.80665),
    }
    const { trace } = parseEdf(formatEdf({ ...recording([1], 100), stretches: [{ startS: 0, acc: still }] }))
    expect(trace.acc.x.every((value) => value === 0)).toBe(true)
    expect(trace.acc.z.every((value) => value === 9.80665)).toBe(true)
  })

  test('keeps records at or below 61440 bytes at 2000 Hz with a gyroscope', () => {
    const acc = series(40_000, 5, [0, 0, 9.8], 0.1)
    const bytes = formatEdf({ ...recording([1], 2000), stretches: [{ startS: 0, acc, gyr: acc }] })
    const recordBytes = (bytes.length - 256 * 8) / Number(text(bytes, 236, 8))
    expect(recordBytes).toBeLessThanOrEqual(61440)
  })

  test.each<[string, () => unknown, string]>([
    ['no samples', () => formatEdf(recording([], 100)), 'at least one stretch'],
    ['an empty stretch', () => formatEdf(recording([100, 0], 100)), 'each with samples'],
    ['no rate', () => formatEdf({ ...recording([100], 100), rateHz: 0 }), 'rateHz > 0'],
    [
      'a label too long',
      () => formatEdf(recording([100], 100, { labels: { acc: ['a', 'b', 'c'.repeat(17)] } })),
      'labels',
    ],
    [
      'the label of annotations',
      () => formatEdf(recording([100], 100, { labels: { acc: ['a', 'b', 'EDF Annotations'] } })),
      'labels',
    ],
    [
      'an offset beyond a day',
      () => formatEdf(recording([100], 100, { utcOffsetMin: 1440 })),
      'utcOffsetMin',
    ],
    [
      'a start beyond dates',
      () => formatEdf(recording([100], 100, { startedAtUs: 1e300 })),
      'years 1000 to 9999',
    ],
    [
      'a value that is none',
      () => {
        const one = recording([100], 100)
        one.stretches[0].acc.y[50] = NaN
        formatEdf(one)
      },
      'NaN',
    ],
  ])('%s is refused with a RangeError', (_, call, words) => {
    expect(call).toThrow(RangeError)
    expect(call).toThrow(words)
  })
})

describe('numberField', () => {
  test('rounds outward, within 8 characters, to the last place that fits', () => {
    expect(numberField(9.806651234, 'down')).toBe('9.806651')
    expect(numberField(9.806651234, 'up')).toBe('9.806652')
    expect(numberField(-9.806651234, 'down')).toBe('-9.80666')
    expect(numberField(-9.806651234, 'up')).toBe('-9.80665')
    expect(numberField(123456789 / 10, 'up')).toBe('12345679')
    expect(numberField(-0.0000001, 'up')).toBe('0')
    expect(() => numberField(123456789, 'up')).toThrow(RangeError)
    expect(() => numberField(-12345678, 'down')).toThrow(RangeError)
  })

  test('never lies inside what it must hold', () => {
    const values = fc.double({ min: -9_999_999, max: 9_999_999, noNaN: true })
    fc.assert(
      fc.property(values, (value) => {
        expect(Number(numberField(value, 'down'))).toBeLessThanOrEqual(value)
        expect(Number(numberField(value, 'up'))).toBeGreaterThanOrEqual(value)
        expect(numberField(value, 'up').length).toBeLessThanOrEqual(8)
        // Sign, zero and point leave five decimals in the worst case.
        expect(Math.abs(Number(numberField(value, 'nearest')) - value)).toBeLessThanOrEqual(
          Math.max(5.001e-6, Math.abs(value) * 5e-6),
        )
      }),
      { seed: 62, numRuns: 1000 },
    )
  })
})

describe('recordSize', () => {
  test('takes whole seconds when they fit, and other lengths rather than filling', () => {
    expect(recordSize([3000], 100, 5000)).toEqual({ samples: 100, durationS: '1', filling: 0 })
    expect(recordSize([3030], 100, 5000)).toEqual({ samples: 101, durationS: '1.01', filling: 0 })
    expect(recordSize([3011], 100, 5000)).toEqual({ samples: 100, durationS: '1', filling: 89 })
  })

  test('fills nothing up before a gap', () => {
    const { samples, filling } = recordSize([211, 257, 300], 100, 5000)
    expect(211 % samples).toBe(0)
    expect(257 % samples).toBe(0)
    expect(filling).toBeLessThan(samples)
  })
})
