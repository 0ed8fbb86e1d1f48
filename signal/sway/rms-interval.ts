import { selectInPlace } from '../trace/select.ts'
import { seededUniform } from './seeded-uniform.ts'

const RESAMPLES = 1000
const SHORTEST_BLOCK_S = 1
const MIN_BLOCKS = 3
const SEED = 20_250_301

/**
 * 95 % interval of the horizontal RMS, [low, high] in m/s², by circular moving-block bootstrap: blocks
 * of consecutive samples (the end joined to the beginning, so that every sample is drawn as often as
 * any other) are drawn with replacement until they fill the interval, 1000 times, and the 2.5 and 97.5 % points of ln RMS about its estimate are taken. Blocks keep the slow rhythm of sway,
 * which single samples would break. The generator is seeded: the same samples give the same interval.
 *
 * It says where the RMS of another stand of this length, by the same dog in the same state, may lie on
 * average. With B = n / block blocks the spread is widened by √(B/(B − 1)), as blocks drawn from the
 * data vary about its own mean, and by t(B − 1) over the normal quantile, as for any mean of B values;
 * without this a 5 s stand would be covered 6 times in 10. Simulated coverage: 87 to 93 % for random sway
 * with a memory under 0.5 s, 74 % (3 s) to 89 % (60 s) for a narrow random rhythm of 0.5 Hz.
 *
 * A block lasts 1 s up to 10 s of data and grows with the cube root of the length beyond, the rate
 * at which the bootstrap variance errs least. Null when fewer than 3 blocks fit.
 * Cost: O(n + 1000 · blocks), by prefix sums.
 *
 * @param ml first horizontal axis, low-passed samples of the interval, shape (n); mean removed here
 * @param cc second horizontal axis, shape (n)
 * @see Künsch 1989, Ann. Stat. 17:1217–1241; Politis & Romano 1992 (circular blocks); Hall, Horowitz & Jing 1995, Biometrika 82:561–574 (from memory)
 */
export function rmsInterval(ml: Float64Array, cc: Float64Array, rateHz: number): [number, number] | null {
  const n = ml.length
  if (cc.length !== n)
    throw new TypeError(`rmsInterval requires two axes of one length, got ${n} and ${cc.length}`)
  if (!(rateHz > 0)) throw new RangeError(`rmsInterval requires rateHz > 0, got ${rateHz}`)
  const growth = Math.cbrt(n / rateHz / (10 * SHORTEST_BLOCK_S))
  const block = Math.max(1, Math.round(SHORTEST_BLOCK_S * rateHz * Math.max(1, growth)))
  if (n < MIN_BLOCKS * block) return null

  const energyBefore = cumulativeEnergy(ml, cc)
  const rms = Math.sqrt(energyBefore[n] / n)
  if (!(rms > 0)) return [0, 0]
  const energies = resampledEnergies(energyBefore, block)
  const blocks = n / block
  const widening = Math.sqrt(blocks / (blocks - 1)) * (studentQuantile975(blocks - 1) / NORMAL_975)
  const resampled = Math.ceil(n / block) * block
  // A resample of nothing but stillness would be −∞; 1e-12 of the mean energy stands for none.
  const logRatio = (energy: number) => 0.5 * Math.log(Math.max(energy / resampled / (rms * rms), 1e-12))
  const bound = (share: number) => rms * Math.exp(widening * quantileOf(energies, share, logRatio))
  return [bound(0.025), bound(0.975)]
}

/** Energy of each resample, Σ of squared deviations, shape (RESAMPLES), in no order. */
function resampledEnergies(energyBefore: Float64Array, block: number): Float64Array {
  const n = energyBefore.length - 1
  const blocks = Math.ceil(n / block)
  const uniform = seededUniform(SEED)
  const energies = new Float64Array(RESAMPLES)
  for (let r = 0; r < RESAMPLES; r++) {
    let energy = 0
    for (let b = 0; b < blocks; b++) {
      const start = Math.floor(uniform() * n)
      const end = start + block
      if (end <= n) energy += energyBefore[end] - energyBefore[start]
      else {
        energy += energyBefore[n] - energyBefore[start]
        energy += energyBefore[end - n]
      }
    }
    energies[r] = energy
  }
  return energies
}

const NORMAL_975 = 1.959963984540054

/** 97.5 % point of Student's t, within 1 % from 2 degrees of freedom on (Abramowitz & Stegun 26.7.5). */
function studentQuantile975(dof: number): number {
  const z = NORMAL_975
  const terms = [
    (z ** 3 + z) / 4,
    (5 * z ** 5 + 16 * z ** 3 + 3 * z) / 96,
    (3 * z ** 7 + 19 * z ** 5 + 17 * z ** 3 - 15 * z) / 384,
    (79 * z ** 9 + 776 * z ** 7 + 1482 * z ** 5 - 1920 * z ** 3 - 945 * z) / 92160,
  ]
  return terms.reduce((sum, term, i) => sum + term / dof ** (i + 1), z)
}

/** Σ of squared deviations before sample i, shape (n + 1). */
function cumulativeEnergy(ml: Float64Array, cc: Float64Array): Float64Array {
  const n = ml.length
  let sumMl = 0
  let sumCc = 0
  for (let i = 0; i < n; i++) {
    sumMl += ml[i]
    sumCc += cc[i]
  }
  const energy = new Float64Array(n + 1)
  for (let i = 0; i < n; i++) {
    const dMl = ml[i] - sumMl / n
    const dCc = cc[i] - sumCc / n
    energy[i + 1] = energy[i] + dMl * dMl + dCc * dCc
  }
  return energy
}

/**
 * Quantile of a rising function of the values by linear interpolation between order statistics (NumPy's
 * default). Two values are looked for, nothing is sorted; `values` is put in another order.
 */
function quantileOf(values: Float64Array, share: number, of: (value: number) => number): number {
  const at = share * (values.length - 1)
  const k = Math.floor(at)
  const low = of(selectInPlace(values, k))
  const next = of(selectInPlace(values, Math.min(k + 1, values.length - 1)))
  return low + (at - k) * (next - low)
}
