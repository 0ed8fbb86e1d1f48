import { Ajv2020 } from 'ajv/dist/2020.js'
import * as fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { BUILT_IN_LAYOUTS } from '../../../signal/packet/built-in-layouts.ts'
import { LayoutError, layoutProblems, readLayout } from '../../../signal/packet/check-layout.ts'
import { GENERIC_IMU, GENERIC_IMU_GYRO } from '../../../signal/packet/generic-layout.ts'
import { PACKET_LAYOUT_SCHEMA } from '../../../signal/packet/layout-schema.ts'
import { anyLayout } from './arbitrary-layout.ts'

type Json = Record<string, unknown>

/** A copy of a layout with one field set (undefined removes it), named as problems name fields. */
function changed(layout: object, path: string, value: unknown): Json {
  const copy = structuredClone(layout) as Json
  const steps = path.replace(/\[(\d+)\]/g, '.$1').split('.')
  let at = copy
  for (const step of steps.slice(0, -1)) at = (at[step] ??= {}) as Json
  if (value === undefined) delete at[steps.at(-1)!]
  else at[steps.at(-1)!] = value
  return copy
}

/** Every field of a JSON value, as a path. */
function pathsOf(value: unknown, path = ''): string[] {
  if (typeof value !== 'object' || value === null) return [path]
  const inner = Array.isArray(value)
    ? value.flatMap((item, i) => pathsOf(item, `${path}[${i}]`))
    : Object.entries(value).flatMap(([name, item]) => pathsOf(item, path === '' ? name : `${path}.${name}`))
  return path === '' ? inner : [path, ...inner]
}

describe('layoutProblems', () => {
  it('finds nothing wrong with the layouts that come with the program', () => {
    for (const layout of BUILT_IN_LAYOUTS) expect(layoutProblems(layout), layout.id).toEqual([])
    expect(new Set(BUILT_IN_LAYOUTS.map(({ id }) => id)).size).toBe(BUILT_IN_LAYOUTS.length)
  })

  // Each names the place, says what is there, and what to do.
  it.each([
    ['format', 2],
    ['id', 'Not an id'],
    ['version', 1.5],
    ['name', ''],
    ['service', '9aa2d487'],
    ['characteristic', undefined],
    ['match.namePrefix', ''],
    ['start', [{ characteristic: '2c1e', bytesHex: '0' }], 'start[0].bytesHex'],
    ['stop', [{ characteristic: 'x', bytesHex: '00' }], 'stop[0].characteristic'],
    ['byteOrder', 'middle'],
    ['minBytes', 0],
    ['header.counter.counts', 'bytes'],
    ['header.counter.type', 'f32'],
    ['header.deviceTime.unitS', 0],
    ['header.flags.offset', -1],
    ['samples.strideBytes', '6'],
    ['samples.count', 0],
    ['channels', []],
    ['channels[1].scale', Number.NaN],
    ['channels[1].scale', Number.POSITIVE_INFINITY],
    ['channels[2].type', 'i12'],
    ['accUnit', 'G'],
    ['nominalRateHz', 0],
    ['rangeMs2', -1],
    ['sign', 'up'],
    ['colour', 'red'],
    ['header.counter.size', 2],
  ])('refuses %s: %j', (path, value, at: string = path) => {
    const layout = changed(GENERIC_IMU, path, value)
    const [problem, ...others] = layoutProblems(layout)
    expect(problem).toMatchObject({ path: at, kind: 'structure' })
    expect(problem.message).toContain(at.split('.').at(-1)!.replace(/\[.*/, ''))
    expect(problem.remedy).toMatch(/^[A-Z].{8,}\.$/)
    expect(others).toEqual([])
  })

  it.each([
    [
      'a sample outside its stride',
      'samples.strideBytes',
      5,
      'channels[2].offset',
      /byte 6 of the sample, which has 5/,
    ],
    [
      'channels over one another',
      'channels[1].offset',
      1,
      'channels[1].offset',
      /begins at byte 1, inside channels\[0\]/,
    ],
    ['header fields over one another', 'header.counter.offset', 6, 'header.deviceTime.offset', null],
    [
      'samples over the header',
      'samples.offset',
      10,
      'samples.offset',
      /begins at byte 10, inside header.deviceTime/,
    ],
    ['more than 512 bytes', 'samples.count', 100, 'samples', /end at byte 612/],
    ['a header beyond 512 bytes', 'header.counter.offset', 510, 'header.counter.offset', /end at byte 514/],
    ['a modulo its type cannot reach', 'header.counter.modulo', 2 ** 32, null, null],
    [
      'a modulo above the type',
      'header.sampleCount',
      undefined,
      'samples.count',
      /header.sampleCount, which is not/,
    ],
    ['a scale of 0', 'channels[0].scale', 0, 'channels[0].scale', /is 0/],
    [
      'a marker the type cannot hold',
      'channels[0].invalid',
      40000,
      'channels[0].invalid',
      /40000 is no value of i16/,
    ],
    ['an axis twice', 'channels[2].axis', 'x', 'channels[2].axis', /acceleration x again/],
    ['half a gyroscope', 'channels[2].quantity', 'angular rate', 'channels', /acceleration z is missing/],
    [
      'a constant its type cannot hold',
      'header.constant.value',
      300,
      'header.constant.value',
      /300 does not fit u8/,
    ],
    [
      'a bit its type does not have',
      'header.flags.clippedBit',
      8,
      'header.flags.clippedBit',
      /u8 has no bit 8/,
    ],
    ['a packet counter of a sample', 'header.counter.counts', 'packets', 'header.counter.refersTo', null],
    ['a unit of no channel', 'gyrUnit', 'deg/s', 'gyrUnit', /no channel is an angular rate/],
    ['a step larger than the range', 'resolutionMs2', 80, 'resolutionMs2', /not below the largest reading/],
    ['an unknown direction', 'mount', 'x=up', 'mount', /mount "x=up" is not understood/],
    ['a left-handed mount', 'mount', 'x=cranial,y=right,z=dorsal', 'mount', /right-handed/],
    ['minBytes below what is needed', 'minBytes', 4, 'minBytes', /need 18/],
  ])('refuses %s', (_, path, value, at, words) => {
    const problems = layoutProblems(changed(GENERIC_IMU, path, value))
    if (at === null) {
      expect(problems).toEqual([])
      return
    }
    expect(problems[0]).toMatchObject({ path: at, kind: 'meaning' })
    if (words) expect(problems[0].message).toMatch(words)
    expect(problems[0].remedy).toMatch(/^[A-Z].{8,}\.$/)
  })

  it('refuses a gyroscope without its unit, a counter that says more than its bits, an axis given twice', () => {
    expect(layoutProblems(changed(GENERIC_IMU_GYRO, 'gyrUnit', undefined))[0].path).toBe('gyrUnit')
    const counter = { offset: 4, type: 'u16', counts: 'samples', modulo: 65537 }
    expect(layoutProblems(changed(GENERIC_IMU, 'header.counter', counter))).toEqual([
      expect.objectContaining({ path: 'header.counter.modulo', message: 'a u16 cannot count to 65537' }),
    ])
    const twice = layoutProblems(changed(GENERIC_IMU, 'channels[2].axis', 'x')).map(({ path }) => path)
    expect(twice).toEqual(['channels[2].axis', 'channels'])
  })

  it('tells all problems at once, not only the first', () => {
    const broken = {
      ...changed(GENERIC_IMU, 'samples.strideBytes', 0),
      sign: 'up',
      extra: 1,
      name: undefined,
    }
    expect(layoutProblems(broken).map(({ path }) => path)).toEqual([
      'name',
      'samples.strideBytes',
      'sign',
      'extra',
    ])
  })

  it('does not take a name that every object inherits for a field', () => {
    const { channels, ...without } = GENERIC_IMU
    expect(layoutProblems(Object.assign(Object.create({ channels }), without))).toEqual([
      expect.objectContaining({ path: 'channels', kind: 'structure' }),
    ])
    const named = JSON.parse('{"toString": 1, "__proto__": 2}') as object
    expect(layoutProblems({ ...GENERIC_IMU, header: named }).map(({ path }) => path)).toContain(
      'header.toString',
    )
  })

  it('says no to what is not even an object', () => {
    for (const json of [null, undefined, 1, 'x', [], [GENERIC_IMU], true]) {
      expect(layoutProblems(json)).toHaveLength(1)
    }
  })
})

describe('readLayout', () => {
  it('writes UUIDs in full and in lower case, and leaves the input alone', () => {
    const json = changed(GENERIC_IMU, 'service', '0x185A')
    json.characteristic = GENERIC_IMU.characteristic.toUpperCase()
    json.start = [{ characteristic: '2C1E', bytesHex: '0A' }]
    const before = JSON.stringify(json)
    const layout = readLayout(json)
    // Bluetooth Core Specification, Vol 3 Part B, 2.5.1: base UUID 00000000-0000-1000-8000-00805F9B34FB.
    expect(layout.service).toBe('0000185a-0000-1000-8000-00805f9b34fb')
    expect(layout.characteristic).toBe(GENERIC_IMU.characteristic)
    expect(layout.start).toEqual([{ characteristic: '00002c1e-0000-1000-8000-00805f9b34fb', bytesHex: '0a' }])
    expect(JSON.stringify(json)).toBe(before)
    expect(readLayout(layout)).toEqual(layout)
  })

  it('throws the first problem and carries all', () => {
    expect.assertions(4)
    try {
      readLayout({ ...GENERIC_IMU, id: 'A', sign: 'up' })
    } catch (error) {
      expect(error).toBeInstanceOf(LayoutError)
      const { message, path, problems } = error as LayoutError
      expect(path).toBe('id')
      expect(message).toBe('id is "A"')
      expect(problems.map((problem) => problem.path)).toEqual(['id', 'sign'])
    }
  })
})

describe('the JSON Schema', () => {
  const validate = new Ajv2020({ strict: true, allErrors: true }).compile(
    JSON.parse(JSON.stringify(PACKET_LAYOUT_SCHEMA)) as object,
  )
  /** Ajv knows structure only: what the parts must be to one another no schema can say. */
  const isWhole = (json: unknown) => layoutProblems(json).every(({ kind }) => kind === 'meaning')

  it('agrees with layoutProblems on sound layouts', () => {
    fc.assert(
      fc.property(anyLayout, (layout) => {
        expect(validate(layout)).toBe(true)
        expect(layoutProblems(layout)).toEqual([])
      }),
      { seed: 20264, numRuns: 200 },
    )
  })

  it('agrees with layoutProblems on layouts with fields changed, removed and added', () => {
    const values = fc.oneof(
      fc.constantFrom<unknown>(
        undefined,
        null,
        '',
        'x',
        'u8',
        'u16',
        'f32',
        'x=cranial,y=left',
        [],
        {},
        true,
      ),
      fc.constantFrom<unknown>(
        'little',
        'samples',
        'first',
        'fill',
        { field: 'sampleCount' },
        '2c1e',
        'g',
        '00ff',
      ),
      fc.constantFrom<unknown>(
        -1,
        0,
        0.5,
        1,
        2,
        31,
        32,
        511,
        512,
        513,
        4000,
        4001,
        2 ** 32,
        2 ** 32 + 1,
        1e300,
      ),
      fc.string({ unit: 'binary', maxLength: 90 }),
    )
    const names = ['', '.more', '.modulo', '.refersTo', '.byteOrder', '.bias', '[0]']
    let whole = 0
    let broken = 0
    fc.assert(
      fc.property(
        anyLayout,
        fc.array(fc.tuple(fc.nat(), fc.constantFrom(...names), values), { minLength: 1, maxLength: 3 }),
        (layout, changes) => {
          let json = changed(layout, 'match', { namePrefix: 'Sway' })
          for (const [pick, name, value] of changes) {
            const paths = pathsOf(json)
            const path = paths[pick % paths.length]
            const inner = path + name
            try {
              json = changed(json, inner, value)
            } catch {
              // A text or number has no fields: change it whole.
              json = changed(json, path, value)
            }
          }
          const isValid = validate(json)
          if (isValid) whole++
          else broken++
          expect(isWhole(json), JSON.stringify(json)).toBe(isValid)
        },
      ),
      { seed: 20265, numRuns: 3000 },
    )
    expect(Math.min(whole, broken)).toBeGreaterThan(100)
  })
})
