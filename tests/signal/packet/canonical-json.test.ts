import * as fc from 'fast-check'
import { expect, it } from 'vitest'
import { canonicalJson } from '../../../signal/packet/canonical-json.ts'
import { GENERIC_IMU } from '../../../signal/packet/generic-layout.ts'

// RFC 8785, 3.2.2 (numbers and literals) and 3.2.3 (order of names by UTF-16 code units), from memory.
it('writes the examples of RFC 8785', () => {
  const literals = {
    numbers: [333333333.33333329, 1e30, 4.5, 2e-3, 0.000000000000000000000000001],
    string: '\u20ac$\u000F\u000aA\'\u0042\u0022\u005c\\"/',
    literals: [null, true, false],
  }
  expect(canonicalJson(literals)).toBe(
    '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],' +
      '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}',
  )
  const names = {
    '\u20ac': 'Euro Sign',
    '\r': 'Carriage Return',
    '\ufb33': 'Hebrew Letter Dalet With Dagesh',
    '1': 'One',
    '\ud83d\ude00': 'Emoji: Grinning Face',
    '\u0080': 'Control',
    '\u00f6': 'Latin Small Letter O With Diaeresis',
  }
  const order = Object.values(JSON.parse(canonicalJson(names).replace('"1":', '"_1":')) as object)
  expect(order).toEqual([
    'Carriage Return',
    'One',
    'Control',
    'Latin Small Letter O With Diaeresis',
    'Euro Sign',
    'Emoji: Grinning Face',
    'Hebrew Letter Dalet With Dagesh',
  ])
})

it('does not depend on the order of fields and reads back as the same value', () => {
  const reversed = Object.fromEntries(Object.entries(GENERIC_IMU).reverse())
  expect(canonicalJson(reversed)).toBe(canonicalJson(GENERIC_IMU))
  fc.assert(
    fc.property(fc.jsonValue({ stringUnit: 'grapheme' }), (value) => {
      // −0 is written as 0, as JSON.stringify does.
      expect(JSON.parse(canonicalJson(value))).toEqual(JSON.parse(JSON.stringify(value)))
    }),
    { seed: 20266 },
  )
})

it('leaves out what is undefined and refuses what JSON cannot hold', () => {
  expect(canonicalJson({ b: 1, a: undefined })).toBe('{"b":1}')
  for (const value of [NaN, Infinity, -Infinity, undefined, () => 1, Symbol('s')]) {
    expect(() => canonicalJson(value)).toThrow(TypeError)
    expect(() => canonicalJson([value])).toThrow(TypeError)
  }
})
