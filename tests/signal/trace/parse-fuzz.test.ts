import { describe, expect, test } from 'vitest'
import fc from 'fast-check'
import { readFileSync } from 'node:fs'
import { parseTrace } from '../../../signal/trace/parse.ts'
import { seeded } from './made-trace.ts'
import { TraceError } from '../../../signal/trace/trace-error.ts'
import { formatTraceCsv } from '../../../signal/trace/format.ts'
import { timed } from '../../helpers/processor-time.ts'

const real = readFileSync(
  new URL('../../reference/data/pdkit_tremor/rest_right_2458.csv', import.meta.url),
  'utf8',
)
const small = real.split('\n').slice(0, 150).join('\n')
const withHeader = formatTraceCsv(parseTrace(small, { unit: 'm/s2' }).trace)
const asJson = JSON.stringify(
  small
    .split('\n')
    .map((row, i) => ({ t: i / 100, ax: Number(row.split(',')[1]), ay: 0, az: 9.81, mark: '' })),
)

/** Reads the text; everything but a sound trace or a TraceError fails. */
function readOrRefuse(text: string): void {
  try {
    const { trace, unusedSamples, duplicates } = parseTrace(text)
    expect(trace.rateHz > 0 && Number.isFinite(trace.rateHz)).toBe(true)
    expect(Number.isInteger(unusedSamples) && Number.isInteger(duplicates)).toBe(true)
    for (const axis of [trace.acc.x, trace.acc.y, trace.acc.z]) {
      expect(axis.length).toBe(trace.t.length)
      expect(axis.every(Number.isFinite)).toBe(true)
    }
    expect(trace.t.every((tS, i) => Number.isFinite(tS) && (i === 0 || tS > trace.t[i - 1]))).toBe(true)
  } catch (error) {
    if (!(error instanceof TraceError)) throw error
    expect(error.message).toContain(error.remedy)
  }
}

describe('damaged files', () => {
  test.each([
    ['without a header', small, 21],
    ['with header, comments and stamps in s', withHeader, 22],
    ['JSON', asJson, 23],
  ])(
    '%s: changed, lost, doubled and moved bytes end in a sound trace or a TraceError',
    (_, text, seed) => {
      const random = seeded(seed)
      const pick = (below: number) => Math.floor(random() * below)
      const bytes = new TextEncoder().encode(text)
      const decoder = new TextDecoder()
      for (let round = 0; round < 300; round++) {
        let damaged = bytes.slice()
        for (let change = 0; change <= pick(6); change++) {
          const at = pick(damaged.length)
          const length = pick(200)
          const kind = pick(6)
          const some = damaged.slice(at, at + length)
          if (kind === 0) damaged[at] = pick(256)
          else if (kind === 1) damaged[at] = ',;\t\n\r"#.-+eE0 {}[]:'.charCodeAt(pick(20))
          else if (kind === 2)
            damaged = Uint8Array.from([...damaged.slice(0, at), ...damaged.slice(at + length)])
          else if (kind === 3)
            damaged = Uint8Array.from([...damaged.slice(0, at), ...some, ...damaged.slice(at)])
          else if (kind === 4) damaged = damaged.slice(0, at + 1)
          else damaged.set(some.slice(0, damaged.length - pick(damaged.length)), 0)
        }
        readOrRefuse(decoder.decode(damaged))
      }
    },
    20_000,
  )

  test('any text at all ends in a TraceError or a sound trace', () => {
    const cells = fc.constantFrom(
      't',
      'ax',
      'ay',
      'az',
      '0',
      '1',
      '-1',
      '1e999',
      '"',
      ',',
      ';',
      '\t',
      '\n',
      '#',
      '[',
      '{',
      ':',
      '\ufeff',
      '9.8',
    )
    const texts = fc.oneof(
      fc.string({ unit: 'binary' }),
      fc.array(cells, { maxLength: 60 }).map((list) => list.join('')),
      fc.json(),
    )
    fc.assert(fc.property(texts, readOrRefuse), { seed: 24, numRuns: 1500 })
  })

  test.each([
    ['one endless row', '1,'.repeat(500_000)],
    ['a quote opened on every row', '"1,2\n'.repeat(100_000)],
    ['half a million quotes', '"'.repeat(500_000)],
    ['deep brackets', '['.repeat(200_000)],
    ['blank lines', '\n'.repeat(500_000)],
    ['an endless number', `t,ax,ay,az\n${'9'.repeat(500_000)},1,1,1\n`],
    ['an endless name', `${'a_'.repeat(100_000)},ax,ay,az\n`],
    ['an endless JSON text', `["${'\\u0041'.repeat(200_000)}`],
  ])('%s ends in time', (_, text) => {
    // Tens of ms; anything quadratic takes minutes.
    expect(timed(() => readOrRefuse(text)).processorMs).toBeLessThan(5000)
  })

  test('an hour at 100 Hz is read within seconds', () => {
    const rows = Array.from(
      { length: 360_000 },
      (_, i) => `${(i / 100).toFixed(2)},0.1,${(i % 50) / 100},9.8`,
    )
    const text = `t,ax,ay,az\n${rows.join('\n')}\n`
    const { result, processorMs } = timed(() => parseTrace(text))
    expect(result.trace.t.length).toBe(360_000)
    expect(processorMs).toBeLessThan(6000) // half a second alone
  })
})
