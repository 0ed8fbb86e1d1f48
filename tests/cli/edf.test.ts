import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { formatEdf } from '#signal/trace/edf-write'
import { formatTraceCsv } from '#signal/trace/format'
import { uniformStretches } from '#signal/trace/resample'
import type { Report } from '#signal/report-types'
import { sessionTrace } from '../helpers/session-trace.ts'
import { run } from './run.ts'

const trace = sessionTrace()
const { marks, startedAtUs } = trace
const edf = formatEdf({ ...uniformStretches(trace), marks, startedAtUs })
const csv = formatTraceCsv(trace)

let folder: string
beforeAll(() => (folder = mkdtempSync(join(tmpdir(), 'swaybook-edf-'))))
afterAll(() => rmSync(folder, { recursive: true }))

function written(name: string, content: string | Uint8Array): string {
  const path = join(folder, name)
  writeFileSync(path, content)
  return path
}

async function report(path: string): Promise<Report> {
  const { code, out, err } = await run('analyse', path, '--json')
  expect(err).toBe('')
  expect(code).toBe(0)
  return JSON.parse(out) as Report
}

describe('analyse reads EDF+', () => {
  it('and measures what it measures in the CSV of the same recording', async () => {
    const fromCsv = await report(written('trace.csv', csv))
    // A name tells nothing: the first bytes do.
    for (const name of ['trace.edf', 'trace.dat']) {
      const fromEdf = await report(written(name, edf))
      expect(fromEdf.holds.length).toBe(fromCsv.holds.length)
      expect(fromEdf.holds.length).toBeGreaterThan(0)
      fromEdf.holds.forEach((hold, i) => {
        const expected = fromCsv.holds[i]
        expect(hold.fromS).toBeCloseTo(expected.fromS, 6)
        // 16 bits over the range of this recording are a step of some 0.2 mm/s²: 1e-3 of the sway is ample.
        const [got, wanted] = [hold.sway!.rms!.horizontal!, expected.sway!.rms!.horizontal!]
        expect(Math.abs(got / wanted - 1)).toBeLessThan(1e-3)
      })
    }
  })

  it('from another program, with a word on what is too short in it', async () => {
    const path = fileURLToPath(new URL('../reference/data/edf/edflib.edf', import.meta.url))
    const { trace: header } = await report(path)
    expect(header).toMatchObject({ rateHz: 50, samples: 200 })
  })

  it('and says in one line what is wrong with a broken one', async () => {
    const { code, err } = await run('analyse', written('half.edf', edf.subarray(0, edf.length / 2)))
    expect(code).toBe(3)
    expect(err).toMatch(/half\.edf: the file ends within the data \(\d+ of \d+ records are whole\)/)
    expect(err.trim().split('\n').length).toBe(1)
  })
})
