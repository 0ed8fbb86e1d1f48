import { describe, expect, test } from 'vitest'
import { readFileSync } from 'node:fs'
import { parseTrace } from '../../../signal/trace/parse.ts'
import { codeOf } from './trace-errors.ts'
import { traceQuality } from '../../../signal/trace/quality.ts'
import { uniformStretches } from '../../../signal/trace/resample.ts'

// Phone recordings of hand tremor, pdkit/pdkit @b7b6ebbd (MIT); see the README beside them.
const read = (name: string) =>
  readFileSync(new URL(`../../reference/data/pdkit_tremor/${name}.csv`, import.meta.url), 'utf8')

describe('real phone recordings without a header, in nanoseconds', () => {
  test('the resting hand is read as it is: every row, unit from gravity, stamps from the step', () => {
    const text = read('rest_right_2458')
    const found = parseTrace(text)
    const rows = text
      .trimEnd()
      .split('\n')
      .map((row) => row.split(',').map(Number))
    expect(found.trace.t.length).toBe(rows.length)
    expect([...found.trace.acc.z]).toEqual(rows.map((row) => row[3]))
    expect(found.trace.t[1]).toBe((1254432173322916 - 1254432163312187) / 1e9)
    expect([found.unit, found.unitBasis, found.unusedSamples, found.duplicates]).toEqual([
      'm/s2',
      'median norm',
      0,
      0,
    ])
    expect(found.trace.startedAtUs).toBeNull()
    expect(found.trace.rateHz).toBeCloseTo(100, 1)
    expect(found.notes).toEqual([
      expect.stringContaining('Column 5 was not used'),
      expect.stringContaining('inferred from its median step: ns'),
    ])
  })
  test('the moving hand has no median norm near gravity, so the unit is asked for', () => {
    const text = read('kinetic_left_pdkit_test')
    expect(codeOf(() => parseTrace(text))).toBe('UNKNOWN_UNIT')
    const found = parseTrace(text, { unit: 'm/s2' })
    expect(found.trace.t.length).toBe(1491)
    expect(found.stampResolutionS).toBe(1e-6)
    expect(uniformStretches(found.trace).rateHz).toBe(50)
  })
  test('holes in the moving hand are gaps, and its stretches lie between them on a true 50 Hz grid', () => {
    const { trace, stampResolutionS, ...counts } = parseTrace(read('kinetic_left_pdkit_test'), {
      unit: 'm/s2',
    })
    const report = traceQuality(trace, { ...counts, stampResolutionS, bandEdgesHz: [12, 18] })
    // The three steps of more than 50 ms in the file: rows 46/47, 546/547 and 1046/1047.
    expect(report.gaps.map(({ fromS }) => fromS)).toEqual([trace.t[45], trace.t[545], trace.t[1045]])
    const { stretches, droppedSamples } = uniformStretches(trace, { stampResolutionS })
    expect(droppedSamples).toBe(0)
    expect(stretches.map(({ startS }) => startS)).toEqual([0, ...report.gaps.map(({ toS }) => toS)])
    const spans = [trace.t[45], trace.t[545], trace.t[1045], trace.t[1490]].map(
      (endS, i) => endS - stretches[i].startS,
    )
    expect(stretches.map(({ acc }) => acc.x.length)).toEqual(
      spans.map((spanS) => Math.floor(spanS * 50 + 1e-6) + 1),
    )
  })
  test('the resting hand has jitter of a quarter millisecond and no hole', () => {
    const { trace, ...counts } = parseTrace(read('rest_right_2458'))
    const report = traceQuality(trace, { ...counts, bandEdgesHz: [12, 18] })
    expect(report).toMatchObject({ verdict: 'good', gaps: [], clippedSamples: 0, flatSamples: 0 })
    // NumPy on the same column: np.diff(t).std() = 2.41983508e-4 s.
    expect(report.jitterSdS).toBeCloseTo(2.41983508e-4, 11)
    expect(uniformStretches(trace).stretches.length).toBe(1)
  })
})
