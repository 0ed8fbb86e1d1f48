import { describe, expect, it } from 'vitest'
import { fitClock } from '../../signal/clock/lower-hull.ts'
import { unwrapCounter } from '../../signal/clock/unwrap.ts'
import { lostBetween } from '../../signal/clock/loss.ts'
import { RunningClock } from '../../signal/clock/running-clock.ts'
import { expectRelative, readVectors } from './vectors.ts'

interface Line {
  intercept: number
  slope: number
  fs: number
}
interface Timing {
  ble_dejitter: {
    seq: number[]
    arrival_s: number[]
    model: { samples_per_packet: number; lost: number[]; packets: number }
    lower_envelope_lp: Line
    lower_hull_edge: Line
    max_abs_error_ms_vs_true: { lower_after_removing_constant: number }
  }
  uint16_unwrap: { raw: number[]; unwrapped: number[]; lost_between: number[] }
}

/** Computed by separate NumPy and SciPy scripts; the line also by SciPy's linear programme (HiGHS). */
const { ble_dejitter: link, uint16_unwrap: counter } = readVectors<Timing>('timing')
const perPacket = link.model.samples_per_packet
const index = link.seq.map((packet) => packet * perPacket + perPacket - 1)

describe('the clock of a stream over a radio link', () => {
  it('is the lower hull edge over the mean index', () => {
    const fit = fitClock(index, link.arrival_s, 50)
    // 1e-9 of the intercept: it is a difference of numbers near 18 s, with 16 digits each.
    expectRelative(fit.interceptS, link.lower_hull_edge.intercept, 1e-9, 'intercept')
    expectRelative(fit.periodS, link.lower_hull_edge.slope, 1e-13, 'period')
    expectRelative(fit.rateHz, link.lower_hull_edge.fs, 1e-13, 'rate')
    expectRelative(fit.driftPpm, (link.lower_hull_edge.fs / 50 - 1) * 1e6, 1e-9, 'drift')
  })

  it('is the optimum of the linear programme', () => {
    const fit = fitClock(index, link.arrival_s)
    // HiGHS stops at its own tolerance of 1e-7 on constraints.
    expectRelative(fit.periodS, link.lower_envelope_lp.slope, 1e-10, 'period')
    expect(Math.abs(fit.interceptS - link.lower_envelope_lp.intercept)).toBeLessThan(1e-7)
  })

  it('is the same when packets come one by one', () => {
    const clock = new RunningClock({ nominalRateHz: 50, windowS: Infinity })
    index.forEach((last, i) => clock.add(last, link.arrival_s[i]))
    expectRelative(clock.fit()!.periodS, link.lower_hull_edge.slope, 1e-13, 'period')
  })

  it('misses the true times by as much as computed elsewhere', () => {
    const fit = fitClock(index, link.arrival_s)
    const errors = index.map((last) => fit.interceptS + last * fit.periodS - last / 50.02)
    const mean = errors.reduce((sum, error) => sum + error, 0) / errors.length
    const worstMs = 1000 * Math.max(...errors.map((error) => Math.abs(error - mean)))
    expectRelative(worstMs, link.max_abs_error_ms_vs_true.lower_after_removing_constant, 1e-9, 'worst error')
  })

  it('tells the lost packets by their index', () => {
    const packets = link.seq.map((packet) => ({ firstIndex: packet * perPacket, count: perPacket }))
    expect(lostBetween(packets)).toEqual([
      { firstIndex: 370, count: 20 },
      { firstIndex: 900, count: 10 },
    ])
    expect(link.model.lost).toEqual([37, 38, 90])
  })
})

it('a 16-bit counter is unwrapped, and its steps tell what was lost', () => {
  const indices = [...unwrapCounter(counter.raw, 65536)]
  expect(indices).toEqual(counter.unwrapped)
  const between = indices.slice(1).map((value, i) => value - indices[i] - 1)
  expect(between).toEqual(counter.lost_between)
})
