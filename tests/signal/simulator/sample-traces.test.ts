import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { parseTrace } from '#signal/trace/parse'
import { buildSampleFiles, playSample } from '../../../sample-traces/build.ts'
import { SAMPLES } from '../../../sample-traces/samples.ts'

const FOLDER = join(import.meta.dirname, '../../../sample-traces')
const built = buildSampleFiles()

function committed(folder: string): string[] {
  return readdirSync(join(FOLDER, folder), { withFileTypes: true })
    .filter((entry) => entry.isFile() && !entry.name.endsWith('.ts'))
    .map((entry) => join(folder, entry.name))
}

describe('sample traces', () => {
  it('are committed exactly as the generator makes them', () => {
    for (const [path, text] of built) {
      // Compared as a boolean: a difference of 200 kB would drown the report.
      expect(readFileSync(join(FOLDER, path), 'utf8') === text, `${path}: run npm run samples`).toBe(true)
    }
    expect([...committed('.'), ...committed('bad')].sort()).toEqual([...built.keys()].sort())
  })

  it('stay small: 600 kB each, 4 MB together', () => {
    const sizes = [...built.values()].map((text) => Buffer.byteLength(text))
    expect(Math.max(...sizes)).toBeLessThan(600_000)
    expect(sizes.reduce((sum, size) => sum + size, 0)).toBeLessThan(4_000_000)
  })

  it.each(SAMPLES)('read back as they were played: $file', (sample) => {
    const { trace } = playSample(sample)
    const { trace: read } = parseTrace(built.get(sample.file) as string)
    expect(read.t.length).toBe(trace.t.length)
    const { form } = sample
    const roundingMs2 =
      0.5 * 10 ** -form.decimals * { 'm/s2': 1, g: 9.80665, mg: 0.00980665 }[form.accUnit] + 1e-9
    for (let i = 0; i < read.t.length; i += 101) {
      // Time cells are rounded to 0.1 ms, those with a date to 1 ms (half of it at both ends).
      expect(Math.abs(read.t[i] - trace.t[i])).toBeLessThanOrEqual(0.001)
      for (const axis of ['x', 'y', 'z'] as const) {
        expect(Math.abs(read.acc[axis][i] - trace.acc[axis][i])).toBeLessThanOrEqual(roundingMs2)
        // Degrees per second with two decimals.
        if (trace.gyr)
          expect(Math.abs((read.gyr?.[axis][i] ?? NaN) - trace.gyr[axis][i])).toBeLessThan(0.0001)
      }
    }
    const marked = form.kind === 'json' || form.marks
    // A mark in a row lies at most one period after its time, two where marks share a row.
    const told = marked ? trace.marks.map(({ kind }) => kind).sort() : []
    expect(read.marks.map(({ kind }) => kind).sort()).toEqual(told)
    if (!marked) return
    for (const { atS, kind } of trace.marks) {
      const nearest = Math.min(
        ...read.marks.filter((mark) => mark.kind === kind).map((mark) => Math.abs(mark.atS - atS)),
      )
      expect(nearest, kind).toBeLessThanOrEqual(2.5 / trace.rateHz + 0.001)
    }
  })

  it.each([
    ['text-in-a-cell.csv', 'BAD_NUMBER'],
    ['unknown-unit.csv', 'UNKNOWN_UNIT'],
    ['time-backwards.csv', 'TIME_ORDER'],
    ['no-axes.csv', 'NO_COLUMNS'],
  ])('are refused when bad: %s with %s', (file, code) => {
    expect(() => parseTrace(built.get(`bad/${file}`) as string)).toThrow(expect.objectContaining({ code }))
  })
})
