import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { pythonWithScipy } from '../helpers/python.mjs'
import { readVectors } from './vectors.ts'
import { WHOLE_REPORT_TRACES } from './whole-report-traces.ts'

const FILES = [
  'scipy_filters',
  'scipy_spectra',
  'scipy_sway',
  'scipy_tremor',
  'scipy_trend',
  ...WHOLE_REPORT_TRACES.map((name) => `whole-report/${name}`),
]
const script = fileURLToPath(new URL('./scripts/make_vectors.py', import.meta.url))

const python = pythonWithScipy()
const present = python !== null
const mustRun = Boolean(process.env.CI)
if (!present && !mustRun) {
  process.stderr.write(
    '\nSKIPPED: python3 with numpy and scipy is not installed, so the committed SciPy vectors were NOT\n' +
      'recomputed. Install python3-scipy and run again; with CI set this is a failure.\n\n',
  )
}

/**
 * What differs by less is the same, whatever the number. Densities span ten decades; samples of a filter are of the
 * order of 1 to 10, and where they settle to nothing each processor leaves other rounding, some 1e-14.
 */
const floorOf = (path: string) => (path.startsWith('scipy_filters.') ? 1e-13 : 1e-15)

/** Every leaf of two JSON trees, with its path. */
function compare(made: unknown, committed: unknown, path: string): void {
  if (typeof committed === 'number') {
    // 1e-9: another SciPy may round differently.
    expect(Math.abs((made as number) - committed), path).toBeLessThanOrEqual(
      Math.max(1e-9 * Math.abs(committed), floorOf(path)),
    )
  } else if (committed !== null && typeof committed === 'object') {
    expect(Object.keys(made as object), path).toEqual(Object.keys(committed))
    for (const [key, value] of Object.entries(committed)) {
      compare((made as Record<string, unknown>)[key], value, `${path}.${key}`)
    }
  } else expect(made, path).toBe(committed)
}

describe.skipIf(!present && !mustRun)('committed SciPy vectors', () => {
  let folder: string
  beforeAll(() => {
    expect(present, 'python3 with scipy is required when CI is set').toBe(true)
    folder = mkdtempSync(join(tmpdir(), 'scipy-vectors-'))
    const run = spawnSync(python!, [script, folder], {
      encoding: 'utf8',
      env: { ...process.env, PYTHONDONTWRITEBYTECODE: '1' },
    })
    expect(run.status, run.stderr).toBe(0)
  }, 120_000)
  afterAll(() => {
    if (folder) rmSync(folder, { recursive: true })
  })

  it.each(FILES)('come out the same when SciPy computes them again: %s', (name) => {
    const made = JSON.parse(readFileSync(join(folder, `${name}.json`), 'utf8'))
    const committed = readVectors<Record<string, unknown>>(name)
    for (const version of ['scipy', 'numpy']) {
      expect(committed[version]).toMatch(/^\d+\.\d+/)
      delete committed[version]
      delete made[version]
    }
    compare(made, committed, name)
  })

  it.each(WHOLE_REPORT_TRACES)('stand for the same test trace when it is made again: %s', (name) => {
    const file = `whole-report/${name}.csv`
    const committed = readFileSync(new URL(`./vectors/${file}`, import.meta.url), 'utf8')
    expect(readFileSync(join(folder, file), 'utf8') === committed, file).toBe(true)
  })
})
