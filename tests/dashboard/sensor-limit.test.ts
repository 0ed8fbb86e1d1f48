import { describe, expect, it } from 'vitest'
import type { QualityReport, Report } from '#signal/report-types'
import { analyseTrace } from '#signal/report'
import { isHidden, sensorLimit, underLimit } from '../../dashboard/lib/sensor-limit.ts'
import { sessionFigures } from '../../dashboard/lib/session-figures.ts'
import { anySession } from './fakes/records.ts'

const quality = (resolutionMs2?: number) =>
  ({ ...(resolutionMs2 !== undefined && { resolutionMs2 }) }) as QualityReport

/** A dog that sways by 0.01 m/s² on a phone of 0.1 m/s² steps: nothing of it is visible. */
function phoneReport(): Report {
  const n = 60 * 30
  return analyseTrace(
    {
      trace: {
        t: Float64Array.from({ length: n }, (_, i) => i / 60),
        acc: { x: new Float64Array(n), y: new Float64Array(n), z: new Float64Array(n).fill(9.8) },
        startedAtUs: null,
        rateHz: 60,
        marks: [],
      },
      unit: 'm/s2',
      resolutionMs2: 0.1,
    },
    { interval: [2, 28] },
  )
}

describe('sensorLimit', () => {
  it('is twice the rounding noise of both axes, in words of the device', () => {
    const limit = sensorLimit(quality(0.1), 'phone')!
    // 2 · √2 · 0.1/√12 = 0.0816 m/s².
    expect(underLimit(limit, 'si')).toBe('under 81.6 mm/s²')
    expect(limit.words).toBe('below what this phone can measure')
    expect(sensorLimit(quality(0.1), 'bluetooth')!.words).toBe('below what this sensor can measure')
    expect(isHidden(0.08, limit)).toBe(true)
    expect(isHidden(0.09, limit)).toBe(false)
  })

  it('is none for a sensor that states no steps', () => {
    expect(sensorLimit(quality(), 'phone')).toBeNull()
    expect(isHidden(0, null)).toBe(false)
  })
})

describe('the figures of a phone session', () => {
  it('never show a sway of 0 for a dog that stands within one step', () => {
    const report = phoneReport()
    expect(report.holds[0].sway.rms.horizontal).toBe(0)
    const figures = sessionFigures(report, { ...anySession(), sensor: 'phone', swayMs2: 0 }, 'si')
    const sway = figures.find(({ name }) => name === 'Sway, whole holds')!
    expect(sway.value).toBe('under 81.6 mm/s²')
    expect(sway.words).toContain('below what this phone can measure')
    const compared = figures.find(({ name }) => name === 'Sway to compare')!
    expect(compared.value).toBeNull()
    expect(compared.words).toContain('the sensor did not change')
  })
})
