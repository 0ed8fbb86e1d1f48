import { describe, expect, it } from 'vitest'
import { bandTimeCourse } from '#signal/tremor/time-course'
import { tremorBands } from '#signal/tremor/tremor'
import { standingDog } from './signals.ts'
import { expectRelative, expectSeries, readVectors } from './vectors.ts'

// Source: SciPy (version inside the file), made by scripts/tremor.py.
const vectors = readVectors<{
  cases: {
    rateHz: number
    samples: number
    bands: {
      fromHz: number
      toHz: number
      power: number
      rms: number
      peakHz: number | null
      peakWidthHz: number | null
    }[]
  }[]
  timeCourse: { rateHz: number; samples: number; windows: { tS: number; rms: number }[] }
}>('scipy_tremor')

describe('tremor against SciPy', () => {
  it.each(vectors.cases)(
    'finds power and peak of $samples samples at $rateHz Hz within 1e-9',
    ({ rateHz, samples, bands }) => {
      const asked = bands.map(({ fromHz, toHz }) => ({ name: `${fromHz}–${toHz} Hz`, fromHz, toHz }))
      const reports = tremorBands(standingDog(samples, rateHz), rateHz, asked, rateHz, {
        headingResolved: true,
      })
      reports.forEach((report, i) => {
        expectRelative(report.power, bands[i].power, 1e-9, `power ${report.name}`)
        expectRelative(report.rms, bands[i].rms, 1e-9, `rms ${report.name}`)
        if (bands[i].peakHz === null) {
          expect(report.peakHz).toBeNull()
          expect(report.reason).toMatch(/shorter than 2 s/)
          return
        }
        expectRelative(report.peakHz, bands[i].peakHz, 1e-9, `peak ${report.name}`)
        expectRelative(report.peakWidthHz, bands[i].peakWidthHz!, 1e-9, `width ${report.name}`)
      })
    },
  )

  it('follows the band RMS over time as windowed periodograms do', () => {
    const { rateHz, samples, windows } = vectors.timeCourse
    const course = bandTimeCourse(standingDog(samples, rateHz), rateHz, 4, 12)
    const expectedTimes = windows.map((w) => w.tS)
    const expectedRms = windows.map((w) => w.rms)
    expectSeries(course.tS, expectedTimes, 1e-15, 'window centres')
    expectSeries(course.rms, expectedRms, 1e-11, 'band RMS')
  })
})
