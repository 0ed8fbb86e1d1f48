import * as fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { BUILT_IN_LAYOUTS } from '#signal/packet/built-in-layouts'
import { canonicalJson } from '#signal/packet/canonical-json'
import { readLayout } from '#signal/packet/check-layout'
import { GENERIC_IMU } from '#signal/packet/generic-layout'
import {
  addGyroscope,
  DraftProblems,
  draftOf,
  jsonOf,
  removeGyroscope,
} from '../../dashboard/lib/layout-draft.ts'
import { bytesFromHex, hexOf } from '../../dashboard/lib/hex.ts'
import { packetFields } from '../../dashboard/lib/packet-fields.ts'
import { anyLayout } from '../signal/packet/arbitrary-layout.ts'
import { encodePacket } from '../signal/packet/packet-encoder.ts'

describe('a draft', () => {
  test('gives back the layout it was made of', () => {
    for (const layout of BUILT_IN_LAYOUTS)
      expect(canonicalJson(jsonOf(draftOf(layout)))).toBe(canonicalJson(layout))
    fc.assert(
      fc.property(anyLayout, (layout) => {
        const again = readLayout(jsonOf(draftOf(layout)))
        // A header without fields, and byte orders that are not stated, mean the same left out.
        const { header, ...rest } = layout
        const plain = header && Object.keys(header).length > 0 ? layout : rest
        expect(canonicalJson(again)).toBe(canonicalJson(plain))
      }),
      { seed: 20267, numRuns: 200 },
    )
  })

  test('says what belongs into a field that is empty or wrong, in the words of the form', () => {
    const draft = draftOf(GENERIC_IMU)
    draft.nominalRateHz = null
    draft.channels[1].scale = undefined
    draft.service = 'nonsense'
    const structure = new DraftProblems(jsonOf(draft))
    expect(structure.at('nominalRateHz')).toMatch(/^Give the samples per second/)
    expect(structure.at('channels[1].scale')).toMatch(/^Give a number other than 0/)
    expect(structure.at('service')).toMatch(/^Give a UUID/)
    expect(structure.at('name')).toBe('')
    const meaning = draftOf(GENERIC_IMU)
    meaning.channels[1].offset = 1
    expect(new DraftProblems(jsonOf(meaning)).at('channels[1].offset')).toMatch(
      /^Channel 2 begins at byte 1, inside channel 1\. Put it/,
    )
  })

  test('an empty write is asked for, not dropped', () => {
    const draft = draftOf(GENERIC_IMU)
    draft.start.push({ characteristic: '', bytesHex: '' })
    const problems = new DraftProblems(jsonOf(draft))
    expect(problems.at('start[0].characteristic')).toMatch(/UUID/)
    expect(problems.at('start[0].bytesHex')).toMatch(/two hex digits/)
    draft.start[0] = { characteristic: '2a37', bytesHex: '01 64' }
    expect(readLayout(jsonOf(draft)).start).toEqual([
      { characteristic: '00002a37-0000-1000-8000-00805f9b34fb', bytesHex: '0164' },
    ])
  })

  test('with a gyroscope added is sound, and without it again as before', () => {
    const draft = draftOf(GENERIC_IMU)
    addGyroscope(draft)
    expect(readLayout(jsonOf(draft))).toMatchObject({ gyrUnit: 'deg/s', samples: { strideBytes: 12 } })
    removeGyroscope(draft)
    draft.strideBytes = 6
    expect(canonicalJson(jsonOf(draft))).toBe(canonicalJson(GENERIC_IMU))
  })
})

describe('hex', () => {
  test.each([
    ['2c 01 08', '2c 01 08'],
    ['2C0108', '2c 01 08'],
    ['0x2c, 0x01, 0x8', '2c 01 08'],
    ['2c:01:08', '2c 01 08'],
    ['[2c-01-08]\n', '2c 01 08'],
    ['1 2 a', '01 02 0a'],
  ])('reads %j', (text, hex) => {
    const bytes = bytesFromHex(text)
    if (typeof bytes === 'string') throw new Error(bytes)
    expect(hexOf(bytes)).toBe(hex)
  })

  test('says what is wrong with a text', () => {
    expect(bytesFromHex('2c 0g')).toMatch(/“0g” is not hex/)
    expect(bytesFromHex('2c01 123')).toMatch(/“123” has an odd number/)
  })
})

describe('packetFields', () => {
  test('names every byte once, in order', () => {
    const raw = Array.from({ length: 3 }, () => [1, 2])
    const bytes = encodePacket(GENERIC_IMU, { counter: 7, deviceTime: 9, flags: 1, raw, filler: 0 })
    const fields = packetFields(GENERIC_IMU, bytes, 2)
    expect(fields.map(({ from, to, what, raw: number }) => [from, to, what, number])).toEqual([
      [0, 1, 'constant', '19'],
      [1, 2, 'flags', '1'],
      [2, 3, 'number of samples', '2'],
      [3, 4, 'not used', ''],
      [4, 8, 'counter', '7'],
      [8, 12, 'device time', '9'],
      [12, 14, 'sample 1, ax', '1'],
      [14, 16, 'sample 1, ay', '1'],
      [16, 18, 'sample 1, az', '1'],
      [18, 20, 'sample 2, ax', '2'],
      [20, 22, 'sample 2, ay', '2'],
      [22, 24, 'sample 2, az', '2'],
    ])
    expect(fields.map(({ hex }) => hex).join(' ')).toBe(hexOf(bytes))
  })

  test('does not read past the end of any packet', () => {
    fc.assert(
      fc.property(anyLayout, fc.uint8Array({ maxLength: 60 }), fc.nat(8), (layout, bytes, count) => {
        const view = new DataView(bytes.buffer, 0, bytes.length)
        const fields = packetFields(layout, view, count)
        expect(fields.reduce((sum, { from, to }) => sum + to - from, 0)).toBe(bytes.length)
      }),
      { seed: 20268, numRuns: 300 },
    )
  })
})
