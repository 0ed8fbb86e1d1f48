import { describe, expect, it } from 'vitest'
import { judge } from './oracle.ts'
import { below, pick, runRounds } from './rounds.ts'

const WORDS = ['t', 'time_ms', 'ax', 'ay_g', 'az [m/s²]', 'x', 'y', 'z', 'mark', 'support', 'on', 'quiet-stand-start', '#', '# unit: g', '0', '1', '-1', '9.81', '1e999', '0x1', 'NaN', '2026-03-14T17:20:00Z', '1.773e12', '"', '""', ' ', '\ufeff', '\u0000', 'ä', '🐕', '\ud800'] // prettier-ignore
const SEPARATORS = [',', ';', '\t', '\n', '\n', '\r\n', '\r', ' ']
const KEYS = ['t', 'ax', 'ay', 'az', 'x', 'y', 'z', 'samples', 'acc', 'time', 'rateHz', 'unit', 'startedAt', 'marks', 'kind', 'atS', 'mark', '__proto__', 'length'] // prettier-ignore
const LEAVES = ['0', '1', '-0', '9.81', '1e308', '1e-320', '1e400', 'null', 'true', '""', '"g"', '"m/s2"', '"9.8"', '"2026-03-14T17:20:00Z"', '{}', '[]', 'undefined'] // prettier-ignore

describe('a text of no recording', () => {
  it('made of words of traces in any order ends in a TraceError or a sound trace', () => {
    const ends = runRounds(1500, (choose) => {
      const length = below(120, choose)
      let text = ''
      for (let i = 0; i < length; i++) text += pick(WORDS, choose) + pick(SEPARATORS, choose)
      return { text, how: 'words', judge: () => judge(text, pick([{}, { rateHz: 100 }], choose)) }
    })
    expect(ends.refused).toBeGreaterThan(1000)
  }, 120_000)

  it('made of any characters ends in a TraceError or a sound trace', () => {
    runRounds(1000, (choose) => {
      const limit = pick([0x7f, 0xff, 0xffff], choose)
      const text = Array.from({ length: below(300, choose) }, () =>
        String.fromCharCode(below(limit, choose)),
      ).join('')
      return { text, how: `characters up to ${limit}`, judge: () => judge(text) }
    })
  }, 120_000)

  it('of JSON, sound or not, whatever its keys and depth, ends in a TraceError or a sound trace', () => {
    const ends = runRounds(1500, (choose) => {
      let text = json(choose, 4)
      if (choose() < 0.2) text = text.slice(0, below(text.length, choose))
      return {
        text,
        how: 'JSON',
        judge: () => judge(text, pick([{}, { rateHz: 100, unit: 'g' as const }], choose)),
      }
    })
    expect(ends.refused).toBeGreaterThan(500)
    // Lists of numbers under the right keys do make traces.
    expect((ends.measured ?? 0) + (ends.read ?? 0)).toBeGreaterThan(20)
  }, 120_000)
})

/** A JSON value, often near to one of the forms a recording has. */
function json(choose: () => number, depth: number): string {
  const kind = choose()
  if (kind < 0.35 && depth === 4) return nearlyTrace(choose)
  if (depth === 0 || kind < 0.5) return pick(LEAVES, choose)
  const items = Array.from({ length: below(6, choose) }, () => json(choose, depth - 1))
  if (kind < 0.75) return `[${items.join(',')}]`
  return `{${items.map((item) => `"${pick(KEYS, choose)}":${item}`).join(',')}}`
}

/** Columns or rows of a sensor at rest, with now and then something else in a cell. */
function nearlyTrace(choose: () => number): string {
  const n = pick([9, 10, 300, 300], choose)
  const wrong = pick([0, 0, 0, 0.002, 0.5], choose)
  const cell = (value: number) => (choose() < wrong ? pick(LEAVES, choose) : String(value))
  const gravity = pick([1, 9.81, 9.81, 1000, 3], choose)
  const at = (i: number) => [i / 100, 0.01 * gravity * (choose() - 0.5), 0, gravity]
  const names = ['t', 'ax', 'ay', 'az']
  if (choose() < 0.5) {
    const rows = Array.from({ length: n }, (_, i) => at(i).map((value, k) => `"${names[k]}":${cell(value)}`))
    return `[${rows.map((row) => `{${row.join(',')}}`).join(',')}]`
  }
  const columns = names.map(
    (name, k) => `"${name}":[${Array.from({ length: n }, (_, i) => cell(at(i)[k])).join(',')}]`,
  )
  return `{${[...columns, `"${pick(KEYS, choose)}":${pick(LEAVES, choose)}`].join(',')}}`
}
