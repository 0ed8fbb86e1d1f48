import { seededUniform } from './seeded-uniform.ts'

const RESAMPLES = 1000
const SHORTEST_BLOCK_S = 1
const MIN_BLOCKS = 3
const SEED = 20_250_301

/**
 * 95 % interval of the horizontal RMS, [low, high] in m/s², by moving-block bootstrap: blocks of
 * consecutive samples are drawn with replacement until they fill the interval, 1000 times, and the
 * 2.5 and 97.5 % points of the RMS are taken. Blocks keep the slow rhythm of sway, which single
 * samples would break. The generator is seeded: the same samples give the same interval.
 *
 * A block lasts 1 s up to 10 s of data and grows with the cube root of the length beyond, the rate
 * at which the bootstrap variance errs least. Null when fewer than 3 blocks fit.
 * Cost: O(n + 1000 · blocks), by prefix sums.
 *
 * @param ml first horizontal axis, low-passed samples of the interval, shape (n); mean removed here
 * @param cc second horizontal axis, shape (n)
 * @see Künsch 1989, Ann. Stat. 17:1217–1241; Hall, Horowitz & Jing 1995, Biometrika 82:561–574 (from memory)
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
  const blocks = Math.ceil(n / block)
  const starts = n - block + 1
  const uniform = seededUniform(SEED)
  const resampled = new Float64Array(RESAMPLES)
  for (let r = 0; r < RESAMPLES; r++) {
    let energy = 0
    for (let b = 0; b < blocks; b++) {
      const start = Math.floor(uniform() * starts)
      energy += energyBefore[start + block] - energyBefore[start]
    }
    resampled[r] = Math.sqrt(Math.max(0, energy) / (blocks * block))
  }
  resampled.sort()
  return [quantile(resampled, 0.025), quantile(resampled, 0.975)]
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

/** Quantile by linear interpolation between order statistics (NumPy's default). */
function quantile(ascending: Float64Array, share: number): number {
  const at = share * (ascending.length - 1)
  const k = Math.floor(at)
  const next = Math.min(k + 1, ascending.length - 1)
  return ascending[k] + (at - k) * (ascending[next] - ascending[k])
}
