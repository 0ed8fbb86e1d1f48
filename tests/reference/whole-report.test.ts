import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { analyse } from '#signal/report'
import { parseTrace } from '#signal/trace/parse'
import { readVectors } from './vectors.ts'
import { WHOLE_REPORT_TRACES } from './whole-report-traces.ts'

/**
 * Source: SciPy, by scripts/whole_report.py, which was written from the definitions in words and shares
 * no code with this project. It reads the same CSV files.
 */
interface Expected {
  readonly rateHz: number
  readonly samples: number
  readonly holds: readonly {
    readonly fromS: number
    readonly toS: number
    sway: Tree
    tremor: { bands: Tree[] }
  }[]
}
interface Tree {
  readonly [key: string]: number | string | null | Tree
}

/**
 * 1e-9 for all measures; 1e-11 is reached with SciPy 1.17. Differences come from the order of sums and
 * from SciPy's numerical inversion of F (1e-10).
 */
const TOLERANCE = 1e-9

/** Fails unless every leaf of `expected` stands at the same place of `actual`, null for null. */
function expectTree(actual: unknown, expected: Tree, path: string): void {
  for (const [key, wanted] of Object.entries(expected)) {
    const got = (actual as Record<string, unknown>)[key]
    const at = `${path}.${key}`
    if (wanted !== null && typeof wanted === 'object') expectTree(got, wanted, at)
    else if (typeof wanted !== 'number') expect(got, at).toBe(wanted)
    else {
      const error = Math.abs((got as number) - wanted) / Math.abs(wanted)
      // Written this way round so that NaN fails.
      expect(wanted === got || error <= TOLERANCE, `${at}: got ${got}, SciPy says ${wanted}`).toBe(true)
    }
  }
}

const cases = WHOLE_REPORT_TRACES.flatMap((name) => {
  const { rateHz, samples, holds } = readVectors<Expected>(`whole-report/${name}`)
  return holds.map((hold) => ({ name, rateHz, samples, hold, from: hold.fromS, to: hold.toS }))
})

describe('a whole report against SciPy', () => {
  it.each(cases)(
    'measures $from:$to s of $name.csv as the script does within 1e-9',
    ({ name, rateHz, samples, hold }) => {
      const text = readFileSync(new URL(`./vectors/whole-report/${name}.csv`, import.meta.url), 'utf8')
      const { report } = analyse(parseTrace(text), {
        mount: 'identity',
        interval: [hold.fromS, hold.toS],
      })
      expect(report.trace.rateHz).toBe(rateHz)
      expect(report.trace.samples).toBe(samples)
      expect(report.mount.rotation).toEqual([
        [1, 0, 0],
        [0, 1, 0],
        [0, 0, 1],
      ])
      expect(report.holds).toHaveLength(1)
      const [measured] = report.holds
      expect([measured.fromS, measured.toS]).toEqual([hold.fromS, hold.toS])
      expectTree(measured.sway, hold.sway, 'sway')
      expect(measured.tremor.bands).toHaveLength(hold.tremor.bands.length)
      hold.tremor.bands.forEach((band, i) => expectTree(measured.tremor.bands[i], band, `bands[${i}]`))
    },
  )
})
