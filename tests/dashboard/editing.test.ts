import { describe, expect, test } from 'vitest'
import { axisTicks, centredTicks, tickDecimals } from '../../dashboard/lib/axis-ticks.ts'
import { isoOfLocalInput, localInputOf } from '../../dashboard/lib/local-time.ts'
import { markTimeOf, markTimeText } from '../../dashboard/lib/mark-time.ts'
import { mountAxes, mountOf } from '../../dashboard/lib/mount-words.ts'
import { columnInputs, columnsOf, remedyWords } from '../../dashboard/lib/trace-mapping.ts'

describe('what a person types about a stored session', () => {
  test('the time of a mark reads back what is written', () => {
    for (const [atS, text] of [
      [0, '0:00.0'],
      [59.96, '1:00.0'],
      [65.5, '1:05.5'],
      [605.24, '10:05.2'],
    ] as const) {
      expect(markTimeText(atS)).toBe(text)
      expect(markTimeOf(text, 700)).toBeCloseTo(atS, 0)
    }
    expect(markTimeOf('1:05,5', 100)).toBe(65.5)
    expect(markTimeOf('42', 100)).toBe(42)
  })

  test('a time that is none, or beyond the recording, is refused', () => {
    for (const text of ['', 'x', '1:75', '1:2:3', '-1', '2:00.0']) expect(markTimeOf(text, 119)).toBeNull()
  })

  test('a date keeps its minute through the input, in whatever zone this device is', () => {
    expect(isoOfLocalInput(localInputOf('2026-03-01T17:30:00.000Z'))).toBe('2026-03-01T17:30:00.000Z')
    expect(isoOfLocalInput('')).toBeNull()
  })

  test('a stored mount fills the form that makes it', () => {
    const { x, z } = mountAxes('x=cranial,y=left,z=dorsal')
    expect(mountOf(x, z)).toBe('x=cranial,z=dorsal')
    expect(mountAxes('auto')).toEqual({ x: '', z: '' })
  })

  test('a mapping of columns survives its inputs, names with commas too', () => {
    const inputs = { t: 'time, s', ax: '2', ay: 'a=y', az: '4' }
    expect(columnInputs(columnsOf(inputs))).toEqual(inputs)
    expect(columnsOf({ t: '', ax: '', ay: ' ', az: '' })).toBeUndefined()
  })

  test('a remedy never asks a person for the syntax of a program', () => {
    const remedy = 'Name the columns as t=1,ax=2,ay=3,az=4.'
    expect(remedyWords({ code: 'AMBIGUOUS_COLUMNS', remedy })).not.toContain('ax=')
    expect(remedyWords({ code: 'UNKNOWN_UNIT', remedy: 'Say the unit: g, mg or m/s2.' })).toContain('m/s²')
  })
})

describe('scales', () => {
  test('a picture around 0 has at least two ticks besides it, whatever its reach', () => {
    for (let reach = 0.01; reach < 5000; reach *= 1.07) {
      expect(centredTicks(reach).length, String(reach)).toBeGreaterThanOrEqual(3)
    }
  })

  test('labels of neighbouring ticks differ', () => {
    for (const most of [0.03, 0.4, 4.2, 37, 900]) {
      const ticks = axisTicks(0, most, 5)
      const labels = ticks.map((tick) => tick.toFixed(tickDecimals(ticks)))
      expect(new Set(labels).size).toBe(ticks.length)
    }
  })
})
