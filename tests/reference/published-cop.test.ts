import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { welch } from '#signal/spectrum/welch'
import { predictionEllipse } from '#signal/sway/ellipse'
import { planarPath } from '#signal/sway/sway'
import { expectRelative, readVectors } from './vectors.ts'

// Source: per-trial results published with the open data set of Santos & Duarte 2016, PeerJ 4:e2648
// (BDSinfoCOP.txt), for the raw trials in data/bds (CC BY 4.0). The authors' code is not ours.
interface Trial {
  trial: string
  n: number
  fs: number
  area_published: number
  velo_published: number
  mfreq_published: number
}
const { trials } = readVectors<{ trials: Trial[] }>('bds_published_cop')
const kept = trials.filter(({ trial }) => trial === 'BDS00001' || trial === 'BDS00007')

function centreOfPressure(trial: string): { x: Float64Array; y: Float64Array } {
  const text = readFileSync(new URL(`./data/bds/${trial}.txt`, import.meta.url), 'utf8')
  const [header, ...rows] = text.trim().split(/\r?\n/)
  const names = header.split('\t')
  const column = (name: string) => {
    const at = names.indexOf(name)
    return Float64Array.from(rows, (row) => Number(row.split('\t')[at]))
  }
  return { x: column('COPx[cm]'), y: column('COPy[cm]') }
}

/** Mean of the axes' mean frequencies weighted with their power, as the authors define it. */
function meanFrequencyHz(axes: readonly Float64Array[], rateHz: number): number {
  let weighted = 0
  let weights = 0
  for (const axis of axes) {
    const { frequencyHz, density } = welch(axis, rateHz, { segmentSamples: axis.length >> 1 })
    const power = trapezoid(density)
    const first = trapezoid(density.map((p, k) => p * frequencyHz[k]))
    const sum = density.reduce((total, p) => total + p, 0)
    weighted += (first / power) * sum
    weights += sum
  }
  return weighted / weights
}

/** On a unit grid. */
function trapezoid(y: Float64Array): number {
  return y.reduce((sum, value) => sum + value, 0) - (y[0] + y[y.length - 1]) / 2
}

describe('published centre-of-pressure results', () => {
  it('keeps a trial on firm ground and one on foam', () => expect(kept.length).toBe(2))

  // 1e-9: the published values came from another language and library; an independent SciPy run
  // met them within 8e-13.
  it.each(kept)('reproduces area, velocity and mean frequency of trial $trial within 1e-9', (trial) => {
    const { x, y } = centreOfPressure(trial.trial)
    expect(x.length).toBe(trial.n)
    expectRelative(predictionEllipse(x, y).area, trial.area_published, 1e-9, 'ellipse area, cm²')
    expectRelative(planarPath(x, y) / (trial.n / trial.fs), trial.velo_published, 1e-9, 'velocity, cm/s')
    expectRelative(meanFrequencyHz([x, y], trial.fs), trial.mfreq_published, 1e-9, 'mean frequency, Hz')
  })
})
