import { describe, expect, it } from 'vitest'
import { parseTrace } from '#signal/trace/parse'
import type { ParsedTrace } from '#signal/trace/parse'
import { judge, refusedOr, require } from './oracle.ts'
import { below, pick, runRounds } from './rounds.ts'
import { SOURCES } from './sources.ts'
import type { Source } from './sources.ts'

const isData = (line: string) => /^[-\d]/.test(line)
/** Recordings in rows whose header names every column, so that the order of the columns says nothing. */
const NAMED = SOURCES.filter(({ text }) => !/^[[{]/.test(text) && !isData(text))
const GRAVITY = { g: 1, 'm/s2': 9.80665, mg: 1000 }
const UNITS = ['g', 'm/s2', 'mg'] as const

describe('a recording written otherwise', () => {
  it('with its columns in another order is the same trace', () => {
    runRounds(600, (choose) => {
      const source = pick(NAMED, choose)
      const columns = (source.text.split('\n').find(isData) ?? '').split(source.separator).length
      const order = shuffled(columns, choose)
      const text = source.text
        .split('\n')
        .map((line) => {
          if (line === '' || line.startsWith('#')) return line
          const cells = line.split(source.separator)
          return order.map((column) => cells[column] ?? '').join(source.separator)
        })
        .join('\n')
      const same = () => {
        requireSameSamples(parseTrace(text), parseTrace(source.text))
        return judge(text)
      }
      return { text, how: `${source.name}: columns ${order.join(' ')}`, judge: same }
    })
  }, 120_000)

  it('cut off anywhere keeps the samples before the cut as they were', () => {
    const ends = runRounds(600, (choose) => {
      const source = pick(NAMED, choose)
      const text = source.text.slice(0, below(source.text.length, choose))
      const same = () => {
        const cut = refusedOr(() => parseTrace(text))
        if (cut === null) return 'refused'
        // The last row may have lost digits.
        requireSameSamples(cut, parseTrace(source.text), cut.trace.t.length - 1)
        return judge(text)
      }
      return { text, how: `${source.name}: the first ${text.length} characters`, judge: same }
    })
    expect(ends.measured).toBeGreaterThan(200)
  }, 120_000)
})

describe('a recording in a unit that nothing states', () => {
  it('is read only when its norm is gravity in g, m/s² or mg, and then in that unit', () => {
    const ends = runRounds(500, (choose) => {
      const { source, factor, text } = scaled(choose, () => 't,ax,ay,az')
      const fitting = () => {
        const norm = medianNorm(text)
        const parsed = refusedOr(() => parseTrace(text))
        const near = UNITS.find((unit) => Math.abs(norm / GRAVITY[unit] - 1) < 0.149)
        const isFar = UNITS.every((unit) => Math.abs(norm / GRAVITY[unit] - 1) > 0.151)
        if (parsed === null) {
          require(near === undefined, `refused although the norm ${norm} is gravity in ${near}`)
          return 'refused'
        }
        require(!isFar, `read in ${parsed.unit} although the norm is ${norm}`)
        if (near) require(parsed.unit === near, `read in ${parsed.unit}, the norm ${norm} is ${near}`)
        return 'read'
      }
      return { text, how: `${source.name} times ${factor}`, judge: fitting }
    })
    expect(ends.read).toBeGreaterThan(50)
    expect(ends.refused).toBeGreaterThan(50)
  }, 120_000)

  it('is refused or told of when the header states another one', () => {
    const ends = runRounds(500, (choose) => {
      const stated = pick(UNITS, choose)
      const { source, factor, text } = scaled(
        choose,
        () => `t_s,ax [${stated}],ay [${stated}],az [${stated}]`,
      )
      const told = () => {
        const gravities = medianNorm(text) / GRAVITY[stated]
        const parsed = refusedOr(() => parseTrace(text))
        if (parsed === null) {
          require(gravities < 0.51 || gravities > 1.99, `refused at ${gravities} times gravity`)
          return 'refused'
        }
        require(parsed.unit === stated, `read in ${parsed.unit} instead of ${stated}`)
        const isPlain = gravities > 0.49 && gravities < 2.01
        require(isPlain ||
          /gravity/i.test(parsed.notes.join(' ')), `${gravities} times gravity without a word`)
        return parsed.notes.length > 0 ? 'noted' : 'read'
      }
      return { text, how: `${source.name} times ${factor}, said to be ${stated}`, judge: told }
    })
    expect(ends.refused).toBeGreaterThan(20)
    expect(ends.noted).toBeGreaterThan(20)
    expect(ends.read).toBeGreaterThan(20)
  }, 120_000)
})

/** A recording of even times in one of the units, or times any factor from 1e-5 to 1e5. */
function scaled(
  choose: () => number,
  header: () => string,
): { source: Source; factor: number; text: string } {
  const source = pick(NAMED, choose)
  const { trace } = parseTrace(source.text)
  const factor = choose() < 0.5 ? 10 ** (10 * choose() - 5) : GRAVITY[pick(UNITS, choose)] / 9.80665
  const { x, y, z } = trace.acc
  const rows = [...trace.t].map((tS, i) => [tS, x[i] * factor, y[i] * factor, z[i] * factor].join(','))
  return { source, factor, text: `${[header(), ...rows].join('\n')}\n` }
}

function medianNorm(text: string): number {
  const rows = text.split('\n').filter(isData)
  const norms = rows.map((row) => Math.hypot(...row.split(',').slice(1, 4).map(Number)))
  return norms.sort((a, b) => a - b)[norms.length >> 1]
}

function requireSameSamples(a: ParsedTrace, b: ParsedTrace, count = b.trace.t.length): void {
  require(a.trace.t.length >= count, `${a.trace.t.length} samples instead of ${count}`)
  require(a.unit === b.unit, `unit ${a.unit} instead of ${b.unit}`)
  for (const axis of ['x', 'y', 'z'] as const) {
    const at = a.trace.acc[axis].subarray(0, count).findIndex((value, i) => value !== b.trace.acc[axis][i])
    require(at === -1, `another ${axis} at sample ${at}`)
  }
  const at = a.trace.t.subarray(0, count).findIndex((tS, i) => Math.abs(tS - b.trace.t[i]) > 1e-9)
  require(at === -1, `another time at sample ${at}`)
}

/** The numbers 0 to n − 1 in any order (Fisher and Yates). */
function shuffled(n: number, choose: () => number): number[] {
  const order = Array.from({ length: n }, (_, i) => i)
  for (let i = n - 1; i > 0; i--) {
    const j = below(i + 1, choose)
    ;[order[i], order[j]] = [order[j], order[i]]
  }
  return order
}
