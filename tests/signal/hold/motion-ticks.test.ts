import { describe, expect, it } from 'vitest'
import { MotionTicks, TickSum } from '#signal/hold/motion-ticks'
import { createRandom } from '#signal/simulator/random'

const sum = new TickSum()

describe('MotionTicks', () => {
  it('counts samples into ticks of 0.1 s: [k/10, k/10 + 0.1)', () => {
    for (const rateHz of [25, 50, 52, 100, 104, 128, 200]) {
      const ticks = new MotionTicks(rateHz)
      for (let i = 0; i < 10 * rateHz; i++) ticks.push(i / rateHz, 0, 0, 9.8)
      ticks.closeUntil(10)
      expect(ticks.length).toBe(100)
      expect(ticks.sum(0, 100, sum).count).toBe(10 * rateHz)
      for (let k = 0; k < 100; k++) {
        let inside = 0
        for (let i = 0; i < 10 * rateHz; i++) {
          if (10 * i >= k * rateHz && 10 * i < (k + 1) * rateHz) inside++
        }
        expect(ticks.sum(k, k + 1, sum).count).toBe(inside)
      }
    }
  })

  it('has the mean and the variance of the low-passed samples, along any direction', () => {
    const ticks = new MotionTicks(100)
    // 0.5 and 1 Hz pass the 3.5 Hz low-pass: over whole periods the variance of A·sin is A²/2.
    for (let i = 0; i < 2000; i++) {
      const t = i / 100
      ticks.push(t, 0.4 * Math.sin(Math.PI * t), 0.2 * Math.sin(2 * Math.PI * t) + 1, 9)
    }
    ticks.closeUntil(20)
    ticks.sum(100, 200, sum)
    expect(sum.meanRaw().map((v) => v.toFixed(6))).toEqual(['0.000000', '1.000000', '9.000000'].map((v) => expect.stringMatching(new RegExp(`^-?${v}$`)))) // prettier-ignore
    expect(sum.variance()).toBeCloseTo(0.08 + 0.02, 4)
    expect(sum.varianceAlong([1, 0, 0])).toBeCloseTo(0.08, 4)
    expect(sum.varianceAlong([0, 1, 0])).toBeCloseTo(0.02, 4)
    expect(sum.varianceAlong([Math.SQRT1_2, Math.SQRT1_2, 0])).toBeCloseTo(0.05, 4)
    expect(sum.varianceAlong([0, 0, 1])).toBeLessThan(1e-6)
  })

  it('splits slow from fast motion: 1 Hz is slow, 12 Hz is fast', () => {
    const power = (hz: number) => {
      const ticks = new MotionTicks(100)
      for (let i = 0; i < 1000; i++) ticks.push(i / 100, Math.sin((2 * Math.PI * hz * i) / 100), 0, 9.8)
      ticks.closeUntil(10)
      ticks.sum(30, 80, sum)
      return { slow: sum.variance(), fast: sum.highPower() }
    }
    // Butterworth: |H|² = 1/(1 + (f/fc)^±2n): order 4 at 3.5 Hz, order 2 at 4 Hz (warping < 2 %).
    expect(power(1).slow).toBeCloseTo(0.5, 2)
    expect(power(1).fast).toBeCloseTo(0.5 / (1 + 4 ** 4), 3)
    expect(power(12).slow).toBeLessThan(1e-4)
    expect(power(12).fast).toBeCloseTo(0.5 / (1 + 3 ** -4), 1)
  })

  it('is the same to the last bit for samples as a series and one by one, over gaps long and short', () => {
    for (const rateHz of [25, 52, 100, 104, 128, 200, 333]) {
      const random = createRandom(`series ${rateHz}`)
      const oneByOne = new MotionTicks(rateHz)
      const asSeries = new MotionTicks(rateHz)
      for (const [startS, n] of [
        [0, 2500],
        [2500 / rateHz + 0.1, 7],
        [2507 / rateHz + 1.037, 1],
        [2508 / rateHz + 2.5, 1300],
      ]) {
        const axis = () => Float64Array.from({ length: n }, () => random.normal())
        const acc = { x: axis(), y: axis(), z: axis() }
        asSeries.pushSeries(startS, acc)
        for (let i = 0; i < n; i++) oneByOne.push(startS + i / rateHz, acc.x[i], acc.y[i], acc.z[i])
        expect(asSeries.lowPassed).toEqual(oneByOne.lowPassed)
      }
      const endS = 3808 / rateHz + 2.5
      oneByOne.closeUntil(endS)
      asSeries.closeUntil(endS)
      expect(asSeries.length).toBe(oneByOne.length)
      for (let k = 0; k < oneByOne.length; k++) {
        expect(asSeries.sum(k, k + 1, new TickSum())).toEqual(oneByOne.sum(k, k + 1, sum))
      }
    }
  })

  it('is the same however often it is told that time has passed', () => {
    const random = createRandom(1)
    const once = new MotionTicks(50)
    const often = new MotionTicks(50)
    for (let i = 0; i < 500; i++) {
      const x = random.normal()
      once.push(i / 50, x, 0, 9)
      often.push(i / 50, x, 0, 9)
      often.closeUntil((i + 1) / 50)
    }
    once.closeUntil(10)
    for (let k = 0; k < 100; k++) expect(often.highPower(k)).toBe(once.highPower(k))
    expect(often.length).toBe(once.length)
  })

  it('tells coverage: samples that came over those expected', () => {
    const ticks = new MotionTicks(100)
    for (let i = 0; i < 100; i++) if (i < 40 || i >= 65) ticks.push(i / 100, 0, 0, 9)
    ticks.closeUntil(2)
    expect(ticks.coverage(0, 4)).toBe(1)
    expect(ticks.coverage(0, 10)).toBeCloseTo(0.75, 9)
    expect(ticks.coverage(6, 7)).toBeCloseTo(0.5, 9)
    expect(ticks.coverage(10, 20)).toBe(0)
    expect(ticks.highPower(15)).toBe(0)
  })

  it('does not ring after a long loss: the filters settle on the first sample after it', () => {
    const ticks = new MotionTicks(100)
    for (let i = 0; i < 200; i++) ticks.push(i / 100, 0, 0, 9.8)
    for (let i = 300; i < 500; i++) ticks.push(i / 100, 9.8, 0, 0)
    ticks.closeUntil(5)
    for (let k = 30; k < 50; k++) expect(ticks.highPower(k)).toBeLessThan(1e-20)
    expect(ticks.sum(30, 50, sum).variance()).toBeLessThan(1e-9)
  })

  it('refuses samples of a tick that is closed', () => {
    const ticks = new MotionTicks(100)
    ticks.push(0.5, 0, 0, 9.8)
    expect(() => ticks.push(0.3, 0, 0, 9.8)).toThrow(/ascending times, got 0.3 s after 0.5 s/)
  })
})
