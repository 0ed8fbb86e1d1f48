import { describe, expect, test } from 'vitest'
import { codeOf, errorOf } from './trace-errors.ts'
import { isEdf, parseEdf } from '../../../signal/trace/edf-read.ts'
import { axesInMg, madeEdf } from './made-edf.ts'
import type { MadeEdf } from './made-edf.ts'

const START_US = Date.UTC(2026, 2, 2, 10, 20, 30) * 1000

/** A list as EDF+ writes it: onset, texts. */
const tal = (onset: string, ...texts: string[]) =>
  `${onset}\x14${texts.map((text) => `${text}\x14`).join('')}\0`
const plus = (lists: string[], more: Partial<MadeEdf> = {}): Uint8Array =>
  madeEdf({
    reserved: 'EDF+C',
    signals: [...axesInMg(lists.length), { label: 'EDF Annotations', lists }],
    ...more,
  })

describe('a sound file', () => {
  test('plain EDF gives samples in m/s², the rate, and the start with a word on its zone', () => {
    const parsed = parseEdf(madeEdf({ signals: axesInMg(3), recording: 'any words' }))
    expect(parsed.trace.rateHz).toBe(10)
    expect(parsed.trace.t.length).toBe(30)
    expect(parsed.trace.t[29]).toBeCloseTo(2.9, 12)
    expect(parsed.trace.acc.x[29]).toBeCloseTo(0.029 * 9.80665, 12)
    expect(parsed.trace.acc.y[0]).toBeCloseTo(-0.02 * 9.80665, 12)
    expect(parsed.trace.acc.z[7]).toBeCloseTo(9.80665, 12)
    expect(parsed.trace.startedAtUs).toBe(START_US)
    expect(parsed).toMatchObject({ unit: 'mg', unitBasis: 'header', duplicates: 0, stampResolutionS: 0 })
    expect(parsed.notes.join()).toContain('without a zone')
  })

  test('the scale runs from digital minimum to maximum, also upside down', () => {
    const values = [0, 1].map(() => [0, 4095, 0, 4095, 0, 4095, 0, 4095, 0, 4095])
    const still = [0, 1].map(() => Array<number>(10).fill(2048))
    const signals = [
      {
        label: 'X',
        dimension: 'g',
        physical: ['2', '-2'] as [string, string],
        digital: ['0', '4095'] as [string, string],
        values,
      },
      {
        label: 'Y',
        dimension: 'g',
        physical: ['-1', '1'] as [string, string],
        digital: ['0', '4096'] as [string, string],
        values: still,
      },
      {
        label: 'Z',
        dimension: 'g',
        physical: ['0', '2'] as [string, string],
        digital: ['0', '4096'] as [string, string],
        values: still,
      },
    ]
    const { acc } = parseEdf(madeEdf({ signals }), { unit: 'm/s2' }).trace
    expect([...acc.x.subarray(0, 2)]).toEqual([2, -2])
    expect(acc.y[0]).toBe(0)
    expect(acc.z[0]).toBe(1)
  })

  test('a mapping names signals by label or number, and the unit may be given', () => {
    const signals = axesInMg(2).map((signal, i) => ({ ...signal, label: `ch${i}`, dimension: '' }))
    const { trace, unitBasis } = parseEdf(madeEdf({ signals }), {
      columns: { ax: 'ch0', ay: 2, az: 'CH2' },
      unit: 'mg',
    })
    expect(trace.acc.z[0]).toBeCloseTo(9.80665, 12)
    expect(unitBasis).toBe('option')
  })

  test.each([[['ax', 'ay', 'az']], [['AccX', 'AccY', 'AccZ']], [['X', 'Y', 'Z']]])(
    'labels %j are the axes, as in a text file',
    (labels) => {
      const signals = axesInMg(2).map((signal, i) => ({ ...signal, label: labels[i] }))
      expect(parseEdf(madeEdf({ signals })).trace.acc.z[0]).toBeCloseTo(9.80665, 12)
    },
  )

  test('without any unit gravity tells it', () => {
    const signals = axesInMg(2).map((signal) => ({ ...signal, dimension: '' }))
    expect(parseEdf(madeEdf({ signals }))).toMatchObject({ unit: 'mg', unitBasis: 'median norm' })
  })

  test('a gyroscope in deg/s is read in rad/s; one of another rate is left out with a note', () => {
    const gyro = (perRecord: number) =>
      ['X', 'Y', 'Z'].map((axis) => ({
        label: `Gyro ${axis}`,
        dimension: 'deg/s',
        values: [0, 1].map(() => Array<number>(perRecord).fill(180)),
      }))
    const same = parseEdf(madeEdf({ signals: [...axesInMg(2), ...gyro(10)] }))
    expect(same.trace.gyr?.y[3]).toBeCloseTo(Math.PI, 12)
    const other = parseEdf(madeEdf({ signals: [...axesInMg(2), ...gyro(20)] }))
    expect(other.trace.gyr).toBeUndefined()
    expect(other.notes.join()).toContain('another rate')
  })

  test('annotations become marks: kinds, kinds with a note, and notes; times of records do not', () => {
    const bytes = plus([
      tal('+0.25', '', 'support-off') + tal('+0.75', 'treat given', 'repetition-start: first'),
      tal('+1.25', '') + '+1.5\x152\x14wag\x14\0',
    ])
    const { trace, notes } = parseEdf(bytes)
    expect(trace.marks).toEqual([
      { atS: 0, kind: 'support-off' },
      { atS: 0.5, kind: 'note', note: 'treat given' },
      { atS: 0.5, kind: 'repetition-start', note: 'first' },
      { atS: 1.25, kind: 'note', note: 'wag' },
    ])
    expect(trace.startedAtUs).toBe(START_US + 250_000)
    expect(notes.join()).toContain('1 annotations have a duration')
  })

  test('gaps of EDF+D stay gaps, and records that touch share one even grid', () => {
    const bytes = plus([tal('+0', ''), tal('+1', ''), tal('+7.45', '')], { reserved: 'EDF+D' })
    const { t } = parseEdf(bytes).trace
    expect(t[19]).toBeCloseTo(1.9, 12)
    expect(t[20]).toBeCloseTo(7.45, 12)
    expect(t.length).toBe(30)
  })

  test('samples from "Recording ends" on fill up the last record and are left out', () => {
    const bytes = plus([tal('+0', ''), tal('+1', '') + tal('+1.4', 'Recording ends')])
    const { trace, notes } = parseEdf(bytes)
    expect(trace.t.length).toBe(14)
    expect(trace.marks).toEqual([])
    expect(notes.join()).toContain('6 samples')
  })

  test('"Recording ends" at the end, or long before it, leaves every sample in', () => {
    expect(parseEdf(plus([tal('+0', ''), tal('+1', '') + tal('+2', 'Recording ends')])).trace.t.length).toBe(
      20,
    )
    const early = plus([tal('+0', '') + tal('+0', 'Recording ends'), tal('+1', ''), tal('+2', '')])
    expect(parseEdf(early).trace.t.length).toBe(20)
  })

  test.each([
    ['Startdate 02-MAR-2026 X X X UTC', START_US],
    ['Startdate 02-MAR-2026 X X X UTC+02:30', START_US - 9000e6],
    ['Startdate 31-DEC-1999 X X X', Date.UTC(1999, 11, 31, 10, 20, 30) * 1000],
    ['Startdate 30-FEB-2026 X X X', START_US], // no such day: the two-digit date holds
    ['Startdate X X X X', null],
  ])('%s tells the start', (recording, expected) => {
    expect(parseEdf(plus([tal('+0', ''), tal('+1', '')], { recording })).trace.startedAtUs).toBe(expected)
  })

  test.each([
    ['01.01.85', '10.20.30', Date.UTC(1985, 0, 1, 10, 20, 30) * 1000],
    ['31.12.84', '10.20.30', Date.UTC(2084, 11, 31, 10, 20, 30) * 1000],
    ['01.01.85', '00.00.00', null], // what anonymised files carry
    ['99.99.99', '10.20.30', null],
    ['02.03.26', '24.00.00', null],
  ])('of plain EDF %s %s means the years 1985 to 2084', (date, time, expected) => {
    const bytes = madeEdf({ signals: axesInMg(2), recording: '', date, time })
    expect(parseEdf(bytes).trace.startedAtUs).toBe(expected)
  })

  test('bytes after the last record are noted', () => {
    const bytes = madeEdf({ signals: axesInMg(2) })
    const longer = new Uint8Array(bytes.length + 5)
    longer.set(bytes)
    expect(parseEdf(longer).notes.join()).toContain('5 bytes after the last data record')
  })

  test('a view into a larger buffer is read like a file of its own', () => {
    const bytes = madeEdf({ signals: axesInMg(2) })
    const larger = new Uint8Array(bytes.length + 3)
    larger.set(bytes, 3)
    expect(parseEdf(larger.subarray(3)).trace.acc.x[5]).toBeCloseTo(0.005 * 9.80665, 12)
  })
})

describe('isEdf', () => {
  test('knows EDF and BDF by their first bytes, and text from them', () => {
    expect(isEdf(madeEdf({ signals: axesInMg(2) }))).toBe(true)
    expect(isEdf(Uint8Array.of(255, ...new TextEncoder().encode('BIOSEMI')))).toBe(true)
    for (const text of ['', '0', 't,ax,ay,az\n0,0,0,1\n', '0       1 2 3\n1 2 3 4\n', '[{"t": 0}]']) {
      expect(isEdf(new TextEncoder().encode(text))).toBe(false)
    }
  })
})

describe('what cannot be read is refused in words', () => {
  const sound = madeEdf({ signals: axesInMg(2) })
  const changed = (more: Partial<MadeEdf>) => () => parseEdf(madeEdf({ signals: axesInMg(2), ...more }))
  const relabelled = (labels: string[]) => axesInMg(2).map((signal, i) => ({ ...signal, label: labels[i] }))

  test.each<[string, () => unknown, string, string]>([
    ['an empty file', () => parseEdf(new Uint8Array(0)), 'EMPTY', 'the file is empty'],
    ['another version', changed({ version: '1' }), 'BAD_EDF', 'version'],
    ['BDF', () => parseEdf(Uint8Array.of(255, ...new TextEncoder().encode('BIOSEMI'))), 'BAD_EDF', '24-bit'],
    ['half a header', () => parseEdf(sound.subarray(0, 100)), 'BAD_EDF', '100 of 256 bytes'],
    ['half the signals', () => parseEdf(sound.subarray(0, 600)), 'BAD_EDF', '600 of 1024 bytes'],
    ['half the data', () => parseEdf(sound.subarray(0, 1100)), 'BAD_EDF', '1 of 2 records are whole'],
    ['an open recording', changed({ records: '-1' }), 'BAD_EDF', 'never closed'],
    ['more records than bytes', changed({ records: '99999999' }), 'BAD_EDF', 'ends within the data'],
    [
      'records that are no number',
      changed({ records: 'many' }),
      'BAD_EDF',
      'number of data records reads "many"',
    ],
    ['no records', changed({ records: '0', data: new Uint8Array(0) }), 'TOO_SHORT', 'too few'],
    ['a header length that lies', changed({ headerBytes: '256' }), 'BAD_EDF', '3 signals need 1024'],
    ['no signals', changed({ count: '0' }), 'BAD_EDF', 'number of signals'],
    ['a duration of nothing', changed({ duration: '0' }), 'BAD_EDF', 'holds no samples in time'],
    ['a duration with a comma', changed({ duration: '0,5' }), 'BAD_EDF', 'decimal point'],
    ['a rate of no sensor', changed({ duration: '0.0001' }), 'BAD_RATE', '100000 Hz'],
    ['a recording of a moment', changed({ duration: '0.01' }), 'TOO_SHORT', 'too short'],
    [
      'no accelerometer',
      changed({ signals: relabelled(['EEG Fpz-Cz', 'EOG', 'Temp']) }),
      'NO_COLUMNS',
      'EEG Fpz-Cz',
    ],
    [
      'axes of two rates',
      changed({ signals: axesInMg(2).map((s, i) => (i === 0 ? { ...s, values: [[1], [1]] } : s)) }),
      'BAD_RATE',
      '1, 10 and 10 samples per record',
    ],
    [
      'axes of two units',
      changed({ signals: axesInMg(2).map((s, i) => (i === 0 ? { ...s, dimension: 'g' } : s)) }),
      'UNIT_CONTRADICTION',
      'different units',
    ],
    [
      'a unit that gravity contradicts',
      changed({ signals: axesInMg(2).map((s) => ({ ...s, dimension: 'm/s^2' })) }),
      'UNIT_CONTRADICTION',
      'gravity in mg',
    ],
    [
      'a scale without range',
      changed({ signals: axesInMg(2).map((s) => ({ ...s, physical: ['1', '1'] as [string, string] })) }),
      'BAD_EDF',
      'has no scale',
    ],
    [
      'a scale beyond numbers',
      changed({
        signals: axesInMg(2).map((s) => ({ ...s, physical: ['-1.7E308', '1.7E308'] as [string, string] })),
      }),
      'BAD_EDF',
      'has no scale',
    ],
    [
      'accelerations of no body',
      changed({
        signals: axesInMg(2).map((s) => ({ ...s, physical: ['-9E20', '9E20'] as [string, string] })),
      }),
      'BAD_VALUE',
      'sample 1, column "Acc X"',
    ],
    ['gaps without their times', changed({ reserved: 'EDF+D' }), 'BAD_EDF', 'no "EDF Annotations" signal'],
    [
      'a record without its time',
      () => parseEdf(plus([tal('+0', ''), ''], { reserved: 'EDF+D' })),
      'BAD_EDF',
      'data record 2 does not tell when it starts',
    ],
    [
      'records that overlap',
      () => parseEdf(plus([tal('+0', ''), tal('+0.5', '')], { reserved: 'EDF+D' })),
      'TIME_ORDER',
      'data record 2 starts 0.500 s before',
    ],
    [
      'an annotation cut off',
      () => parseEdf(plus([tal('+0', ''), '+1\x14\x14\0+2\x14words'])),
      'BAD_EDF',
      'data record 2: the annotation',
    ],
    [
      'an onset that is no number',
      () => parseEdf(plus([tal('+0', ''), tal('later', 'words')])),
      'BAD_EDF',
      'data record 2: the annotation',
    ],
    [
      'a mapping of time',
      () => parseEdf(sound, { columns: { t: 1, ax: 1, ay: 2, az: 3 } }),
      'BAD_MAPPING',
      'keeps time itself',
    ],
    [
      'a recording of months',
      () => parseEdf(plus([tal('+0', ''), tal('+9000000', '')], { reserved: 'EDF+D' })),
      'BAD_TIME',
      'sample 11',
    ],
  ])('%s', (_, call, code, words) => {
    const error = errorOf(call)
    expect(error.code).toBe(code)
    expect(error.message).toContain(words)
    expect(error.message).toContain(error.remedy)
    expect(error.remedy.length).toBeGreaterThan(10)
  })

  test('a header that promises terabytes allocates nothing', () => {
    const huge = axesInMg(2).map((signal) => ({ ...signal, perRecord: '99999999' }))
    const before = process.memoryUsage().arrayBuffers
    expect(codeOf(changed({ signals: huge, records: '99999999' }))).toBe('BAD_EDF')
    expect(process.memoryUsage().arrayBuffers - before).toBeLessThan(1e6)
  })
})
