import { describe, expect, test } from 'vitest'
import { parseTrace } from '../../../signal/trace/parse.ts'
import { errorOf } from './trace-errors.ts'
import { csv } from './made-csv.ts'

/** A file at rest that reads `z` on one axis. */
const at = (z: number | string, unit = '') =>
  csv(`t,ax${unit},ay${unit},az${unit}`, (i) => `${i / 100},0,0,${z}`)

describe('unit of the acceleration', () => {
  // Standard gravity 9.80665 m/s² (3rd CGPM 1901; ISO 80000-3).
  test.each([
    [1, 'g', 9.80665],
    [1000, 'mg', 9.80665],
    [9.80665, 'm/s2', 9.80665],
    [0.86, 'g', 0.86 * 9.80665],
    [1140, 'mg', 1.14 * 9.80665],
  ] as const)('a median norm of %s is %s', (z, unit, accMs2) => {
    const found = parseTrace(at(z))
    expect([found.unit, found.unitBasis]).toEqual([unit, 'median norm'])
    expect(found.trace.acc.z[0]).toBeCloseTo(accMs2, 12)
  })
  test.each([0, 0.01, 0.84, 1.16, 5, 8.3, 11.4, 500, 1200, 16384])(
    'a median norm of %s is refused, and named',
    (z) => {
      const error = errorOf(() => parseTrace(at(z)))
      expect(error.code).toBe('UNKNOWN_UNIT')
      expect(error.message).toContain(`median norm of the acceleration is ${z},`)
      expect(error.remedy).toContain('Say the unit')
    },
  )
  test.each([
    [' [g]', 1, 'g'],
    ['_mg', 1000, 'mg'],
    [' (m/s²)', 9.8, 'm/s2'],
    ['_m_s2', 9.8, 'm/s2'],
  ] as const)('the header unit%s is used', (suffix, z, unit) => {
    const found = parseTrace(at(z, suffix))
    expect([found.unit, found.unitBasis]).toEqual([unit, 'header'])
  })
  test('a header unit within a factor of two is believed without a word', () => {
    expect(parseTrace(at(0.6, ' [g]')).notes).toEqual(parseTrace(at(1, ' [g]')).notes)
  })
  test('a header unit far off is noted, and refused when another unit fits', () => {
    expect(parseTrace(at(3, ' [g]')).notes.join()).toContain('3 times gravity')
    expect(errorOf(() => parseTrace(at(9.8, ' [g]')))).toMatchObject({ code: 'UNIT_CONTRADICTION' })
    expect(errorOf(() => parseTrace(at(1, ' [m/s2]'))).message).toContain('gravity in g')
  })
  test('the option goes before the header, and a note tells when the values say otherwise', () => {
    const found = parseTrace(at(9.8, ' [g]'), { unit: 'm/s2' })
    expect([found.unit, found.unitBasis]).toEqual(['m/s2', 'option'])
    expect(parseTrace(at(1), { unit: 'm/s2' }).notes.join()).toContain('gravity in g')
  })
  test('data without gravity is read only with a stated unit, with a note', () => {
    const found = parseTrace(at(0.02), { unit: 'm/s2' })
    expect(found.notes.join()).toContain('Gravity seems to have been removed')
  })
  test('axes that name different units are refused', () => {
    const text = csv('t,ax [g],ay [g],az [mg]', (i) => `${i / 100},0,0,1`)
    expect(errorOf(() => parseTrace(text)).code).toBe('UNIT_CONTRADICTION')
  })
  test('values too large to convert are refused', () => {
    expect(errorOf(() => parseTrace(at('1e308'), { unit: 'g' })).code).toBe('NON_FINITE')
  })
})

describe('unit of the gyroscope', () => {
  const read = (unit: string, x: number) =>
    parseTrace(
      csv(`t,ax,ay,az,gyro_x${unit},gyro_y${unit},gyro_z${unit}`, (i) => `${i / 100},0,0,1,${x},0,0`),
    )
  test.each([
    [' [deg/s]', 180, Math.PI],
    ['_dps', 180, Math.PI],
    [' (°/s)', 180, Math.PI],
    [' (rad/s)', 2, 2],
    ['_rad_s', 2, 2],
    [' [mdps]', 180_000, Math.PI],
    ['', 180, Math.PI],
  ])('gyro_x%s is read', (unit, x, expected) => {
    expect(read(unit, x).trace.gyr?.x[0]).toBeCloseTo(expected, 12)
  })
  test('values that could be either are left out, and a note says so', () => {
    const { trace, notes } = read('', 12)
    expect(trace.gyr).toBeUndefined()
    expect(notes.join()).toContain('gyroscope was not used')
  })
})
