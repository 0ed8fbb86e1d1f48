import { describe, expect, test } from 'vitest'
import {
  acceleration,
  clock,
  cmFrom,
  duration,
  ellipseArea,
  kgFrom,
  multiple,
  percent,
  plannedSeconds,
  significant,
  weight,
} from '../../dashboard/lib/format.ts'

// The test run has an English locale; the digits are what is tested here.
describe('numbers with units', () => {
  test('an acceleration of 1 mg is 9.81 mm/s² (standard gravity 9.80665 m/s², ISO 80000-3)', () => {
    expect(acceleration(0.00980665, 'mg')).toEqual({ value: '1.00', unit: 'mg' })
    expect(acceleration(0.00980665, 'si')).toEqual({ value: '9.81', unit: 'mm/s²' })
  })

  test('a value under half a hundredth of its unit is no row of zeros', () => {
    expect(acceleration(1e-9, 'si').value).toBe('under 0.01')
    expect(acceleration(4.9e-6, 'si').value).toBe('under 0.01')
    expect(acceleration(5e-6, 'si').value).toBe('0.00500')
    expect(ellipseArea(1e-14, 'mg').value).toBe('under 0.01')
  })

  test('large accelerations are shown in m/s²', () => {
    expect(acceleration(10.5, 'si')).toEqual({ value: '10.50', unit: 'm/s²' })
  })

  test('an area scales with the square of the unit', () => {
    expect(ellipseArea(0.01, 'si')).toEqual({ value: '10,000', unit: 'mm²/s⁴' })
    expect(ellipseArea(0.00980665 ** 2 * 5, 'mg')).toEqual({ value: '5.00', unit: 'mg²' })
  })

  test('a hold target of 2.5 s was told as 3 s on the hold view: more than the plan, or than half of it', () => {
    expect(plannedSeconds(2.5)).toBe('2.5 s')
    expect(plannedSeconds(1.25)).toBe('1.25 s')
    expect(plannedSeconds(10)).toBe('10 s')
  })

  test('durations change to minutes at 60 s, never showing 60.0 s', () => {
    expect(duration(8.42)).toBe('8.4 s')
    expect(duration(59.94)).toBe('59.9 s')
    expect(duration(59.97)).toBe('1 min 00 s')
    expect(duration(3725)).toBe('1 h 02 min')
  })

  test('a clock counts full seconds only', () => {
    expect(clock(7.99)).toBe('0:07')
    expect(clock(750)).toBe('12:30')
    expect(clock(3750)).toBe('1:02:30')
    expect(clock(-1)).toBe('0:00')
  })

  test('negative numbers carry a true minus sign and zero carries none', () => {
    expect(significant(-2.5)).toBe('−2.5')
    expect(percent(-0.0001)).toBe('0 %')
  })

  test('ratios lose their decimal from ten up', () => {
    expect(multiple(1.84)).toBe('1.8 ×')
    expect(multiple(12.4)).toBe('12 ×')
  })

  test('pounds and inches convert by their definition (0.45359237 kg, 2.54 cm)', () => {
    expect(kgFrom(100, 'imperial')).toBeCloseTo(45.359237, 9)
    expect(cmFrom(10, 'imperial')).toBeCloseTo(25.4, 9)
    expect(weight(kgFrom(60, 'imperial'), 'imperial')).toBe('60 lb')
  })
})
