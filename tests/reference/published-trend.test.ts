import { describe, expect, it } from 'vitest'
import { mdc95, ownMdc95, percentOfLog, semOfTable } from '#signal/trend/detectable-change'
import { ewmaChart } from '#signal/trend/ewma'
import { individualsChart } from '#signal/trend/individuals-chart'
import { mannKendall } from '#signal/trend/mann-kendall'
import { intraclassCorrelations } from '#signal/trend/reliability'
import { theilSen } from '#signal/trend/theil-sen'
import { expectRelative, expectSeries, readVectors } from './vectors.ts'

interface Kendall {
  n: number
  S: number
  varS: number
  Z: number
  p_two_sided_normal: number
  tau_a: number
  p_two_sided_exact?: number
}

interface IccColumns extends Record<string, number | number[]> {
  CI95_ICC1_1: number[]
  CI95_ICC2_1: number[]
  CI95_ICC3_1: number[]
}

const vectors = readVectors<{
  shrout_fleiss_1979: { data: number[][]; published: Record<string, number>; computed: IccColumns }
  weir_2005_from_memory: Record<'A' | 'B', { data: number[][]; computed: IccColumns }>
  sen_1968: { y: number[]; mann_kendall: Kendall }
  gilbert_1987_MK_small: { y: number[]; computed: Kendall; published: { S: number; p_one_sided: number } }
  hollander_wolfe_theil: { x: number[]; y: number[]; slope: number; mann_kendall: Kendall }
  made_series_ties: {
    x: number[]
    y: number[]
    slope: number
    CI95_scipy: number[]
    mann_kendall: Kendall
    kendall_tau_b_scipy: number
  }
  nist_individuals: {
    data: number[]
    published_from_memory: Record<'mean' | 'MRbar' | 'UCL' | 'LCL', number>
  }
  nist_ewma: {
    data: number[]
    lam: number
    target: number
    s: number
    k: number
    ewma: number[]
    ewma_published_2dp: number[]
    limits_time_varying: number[]
    UCL_published: number
    LCL_published: number
  }
  mdc: {
    ex: { SEM: number; m1: number; m2: number; MDC: number }[]
    log_ratio: { SEMln: number[]; up_pct: number[]; down_pct: number[] }
  }
  mann_kendall_exact_small_n: Record<string, Record<string, { p_two_sided_exact: number }>>
}>('trend_reliability')

/** Some order of 0..n − 1 with a given Kendall S: each value placed with as many inversions as are left. */
function orderWithS(n: number, s: number): number[] {
  let inversions = ((n * (n - 1)) / 2 - s) / 2
  const order: number[] = []
  for (let value = 0; value < n; value++) {
    const here = Math.min(value, inversions)
    order.splice(value - here, 0, value)
    inversions -= here
  }
  return order
}

function expectKendall(y: number[], expected: Kendall): void {
  const test = mannKendall(y)
  expect(test.n).toBe(expected.n)
  expect(test.s).toBe(expected.S)
  expectRelative(test.variance, expected.varS, 1e-14, 'variance')
  expectRelative(test.z, expected.Z, 1e-14, 'z')
  if (expected.p_two_sided_exact !== undefined) {
    expect(test.pMethod).toBe('exact')
    expectRelative(test.p, expected.p_two_sided_exact, 1e-14, 'exact p')
  } else {
    expect(test.pMethod).toBe('normal')
    expectRelative(test.p, expected.p_two_sided_normal, 1e-12, 'normal p')
  }
}

describe('Mann–Kendall against published examples', () => {
  // Source: exact null distribution of S from all permutations, n = 4..8, mann_kendall_exact_small_n.
  it('gives every two-sided exact p of the tables for 4 to 8 values, rising and falling', () => {
    const entries = Object.entries(vectors.mann_kendall_exact_small_n)
    expect(entries.map(([n]) => n)).toEqual(['4', '5', '6', '7', '8'])
    for (const [n, table] of entries) {
      for (const [s, { p_two_sided_exact }] of Object.entries(table)) {
        for (const sign of [1, -1]) {
          const test = mannKendall(orderWithS(Number(n), sign * Number(s)))
          expect(Math.abs(test.s)).toBe(Number(s))
          expectRelative(test.p, p_two_sided_exact, 1e-14, `n ${n}, S ${sign * Number(s)}`)
        }
      }
    }
  })

  // Source: Sen 1968; Gilbert 1987, 16.4.2 (data from memory); Hollander & Wolfe (data from memory); a made
  // series with ties checked against SciPy.
  it('gives S, variance, z and p of the examples of Sen, Gilbert and Hollander & Wolfe and of ties', () => {
    expectKendall(vectors.sen_1968.y, vectors.sen_1968.mann_kendall)
    expectKendall(vectors.gilbert_1987_MK_small.y, vectors.gilbert_1987_MK_small.computed)
    expectKendall(vectors.hollander_wolfe_theil.y, vectors.hollander_wolfe_theil.mann_kendall)
    const { y, mann_kendall, kendall_tau_b_scipy } = vectors.made_series_ties
    expectKendall(y, mann_kendall)
    expectRelative(mannKendall(y).tauB, kendall_tau_b_scipy, 1e-14, 'tau-b')
    const { published } = vectors.gilbert_1987_MK_small
    // Printed with three decimals.
    expect(mannKendall(vectors.gilbert_1987_MK_small.y).p / 2).toBeCloseTo(published.p_one_sided, 3)
  })

  it('goes with the Theil–Sen slopes of the same examples', () => {
    const { hollander_wolfe_theil: wolfe, made_series_ties: ties } = vectors
    expectRelative(theilSen(wolfe.x, wolfe.y).slope, wolfe.slope, 1e-13, 'Hollander & Wolfe')
    const fit = theilSen(ties.x, ties.y)
    expectSeries([fit.slope, fit.low, fit.high], [ties.slope, ...ties.CI95_scipy], 1e-14, 'ties')
  })
})

const ICC_COLUMNS = [
  ['icc11', 'ICC1_1'],
  ['icc21', 'ICC2_1'],
  ['icc31', 'ICC3_1'],
  ['icc1k', 'ICC1_k'],
  ['icc2k', 'ICC2_k'],
  ['icc3k', 'ICC3_k'],
] as const

function expectReliability(data: number[][], expected: IccColumns): void {
  const iccs = intraclassCorrelations(data)
  const { between, within, betweenTrials, residual } = iccs.meanSquares
  expectRelative(between, expected.MSB as number, 1e-12, 'MSB')
  expectRelative(within, expected.MSW as number, 1e-12, 'MSW')
  expectRelative(betweenTrials, expected.MSC as number, 1e-12, 'MSC')
  expectRelative(residual, expected.MSE as number, 1e-12, 'MSE')
  for (const [ours, theirs] of ICC_COLUMNS) {
    expectRelative(iccs[ours].value, expected[theirs] as number, 1e-12, theirs)
  }
  for (const model of ['1', '2', '3'] as const) {
    const { low, high } = iccs[`icc${model}1`]
    // 1e-9: SciPy's F quantiles and ours.
    expectSeries([low, high], expected[`CI95_ICC${model}_1`], 1e-9, `interval of ICC(${model},1)`)
  }
  const sem = semOfTable(iccs.meanSquares, 'consistency')
  expectRelative(sem, expected.SEM_sqrtMSE as number, 1e-12, 'SEM')
  const agreement = semOfTable(iccs.meanSquares, 'agreement')
  expectRelative(agreement, expected.SEM_agreement_sqrt_MSC_MSE as number, 1e-12, 'SEM, agreement')
  // 2e-5: the vectors use 1.96, the definition 1.959964.
  expectRelative(mdc95(sem), expected.MDC95_from_sqrtMSE as number, 2e-5, 'MDC95')
}

describe('reliability against published examples', () => {
  // Source: Shrout & Fleiss 1979, Psychol. Bull. 86:420–428, table 2 and 4; more digits from R psych::ICC.
  it('gives the six ICCs of Shrout & Fleiss with the mean squares and intervals behind them', () => {
    const { data, published, computed } = vectors.shrout_fleiss_1979
    expectReliability(data, computed)
    const iccs = intraclassCorrelations(data)
    // Printed with two decimals.
    for (const [ours, theirs] of ICC_COLUMNS) expect(iccs[ours].value).toBeCloseTo(published[theirs], 2)
    const psych = [0.16574177, 0.28976378, 0.71484071, 0.44279713, 0.62005055, 0.90931554]
    ICC_COLUMNS.forEach(([ours], i) => expect(iccs[ours].value).toBeCloseTo(psych[i], 7))
  })

  // Source: limits of the averages as R psych::ICC prints them for this table, from memory.
  it('gives the intervals of the three averages of k trials', () => {
    const { icc1k, icc2k, icc3k } = intraclassCorrelations(vectors.shrout_fleiss_1979.data)
    const printed = [-0.884, 0.912, 0.071, 0.927, 0.676, 0.986]
    const got = [icc1k, icc2k, icc3k].flatMap(({ low, high }) => [low, high])
    // Printed with three decimals.
    got.forEach((value, i) => expect(Math.abs(value - printed[i]), `limit ${i}`).toBeLessThan(6e-4))
  })

  // Source: Weir 2005, J. Strength Cond. Res. 19:231–240; its two data sets from memory.
  it("gives one SEM and two ICCs for Weir's two groups, which differ only in spread between subjects", () => {
    const { A, B } = vectors.weir_2005_from_memory
    expectReliability(A.data, A.computed)
    expectReliability(B.data, B.computed)
    const [a, b] = [A, B].map(({ data }) => intraclassCorrelations(data))
    expect(semOfTable(a.meanSquares, 'consistency')).toBeCloseTo(semOfTable(b.meanSquares, 'consistency'), 12)
    expect(mdc95(semOfTable(a.meanSquares, 'consistency'))).toBeCloseTo(20.95, 2)
    expect(a.icc31.value).toBeCloseTo(0.947, 4)
    expect(b.icc31.value).toBeCloseTo(0.5377, 4)
  })

  it('gives the smallest detectable change of means of several trials, and in percent of a log scale', () => {
    for (const { SEM, m1, m2, MDC } of vectors.mdc.ex) {
      // So many degrees of freedom that t is 1.96; what is left of the difference is 2e-5 at 1e5.
      expectRelative(ownMdc95({ sem: SEM, dof: 1e5 }, 1 / m1, 1 / m2), MDC, 3e-5, `${m1} against ${m2}`)
    }
    const { SEMln, up_pct, down_pct } = vectors.mdc.log_ratio
    SEMln.forEach((sem, i) => {
      expectRelative(percentOfLog(mdc95(sem)), up_pct[i], 1e-12, `rise at ${sem}`)
      expectRelative(percentOfLog(-mdc95(sem)), down_pct[i], 1e-12, `fall at ${sem}`)
    })
  })
})

describe('control charts against the NIST/SEMATECH e-Handbook', () => {
  // Source: NIST/SEMATECH e-Handbook 6.3.2.4, values as asserted in an open test file.
  it('gives the 20 averages and the limits of its EWMA example, none of them outside', () => {
    const { data, lam, target, s, k, ewma, ewma_published_2dp, limits_time_varying } = vectors.nist_ewma
    const chart = ewmaChart(data, { target, sigma: s, lambda: lam, limitWidth: k })
    expectSeries(chart.ewma, ewma.slice(1), 1e-14, 'averages')
    // Printed with two decimals.
    chart.ewma.forEach((value, i) =>
      expect(Math.abs(value - ewma_published_2dp[i + 1])).toBeLessThanOrEqual(0.005),
    )
    expectSeries(chart.high, limits_time_varying, 1e-14, 'upper limits')
    // The page gives the limits after many values; the 20th lies 8e-7 inside. Printed with four
    // decimals, the lower one cut off instead of rounded.
    expect(chart.high[19]).toBeCloseTo(vectors.nist_ewma.UCL_published, 4)
    expect(chart.low[19]).toBeCloseTo(vectors.nist_ewma.LCL_published, 3)
    expect(chart.outside).toEqual([])
  })

  // Source: NIST/SEMATECH e-Handbook 6.3.2.2, data and limits from memory.
  it('gives mean, moving range and limits of its individuals example', () => {
    const { data, published_from_memory: published } = vectors.nist_individuals
    const chart = individualsChart(data)
    const got = [chart.mean, chart.meanMovingRange, chart.high, chart.low]
    const expected = [published.mean, published.MRbar, published.UCL, published.LCL]
    got.forEach((value, i) => expect(value).toBeCloseTo(expected[i], 4))
    expect(chart.outside).toEqual([])
    expect(chart.jumps).toEqual([])
  })
})
