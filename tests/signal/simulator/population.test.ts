import { describe, expect, it } from 'vitest'
import { totalDurationS } from '#signal/simulator/exercise'
import { randomScript, randomSession } from '#signal/simulator/population'

const scripts = Array.from({ length: 300 }, (_, seed) => randomScript(seed))

describe('randomScript', () => {
  it('covers rates, sway and steps as wide as stated', () => {
    const rates = new Set(scripts.map((script) => script.rateHz))
    for (const rateHz of [25, 50, 100, 104, 200]) expect(rates).toContain(rateHz)
    const episodes = scripts.flatMap((script) => script.episodes)
    const sways = episodes.flatMap((one) => (one.kind === 'hold' ? [one.swayMs2 as number] : []))
    expect(Math.min(...sways)).toBeGreaterThanOrEqual(0.04)
    expect(Math.min(...sways)).toBeLessThan(0.05)
    expect(Math.max(...sways)).toBeLessThanOrEqual(0.35)
    expect(Math.max(...sways)).toBeGreaterThan(0.3)
    const peaks = episodes.flatMap((one) => (one.kind === 'step' ? [one.peakMs2 as number] : []))
    expect(Math.min(...peaks)).toBeLessThan(0.9)
    expect(Math.max(...peaks)).toBeGreaterThan(3.8)
  })

  it('has sits, falls, support, panting, wagging, slips and tremor in some sessions and not in all', () => {
    const has = {
      sit: scripts.filter((script) => script.episodes.some((one) => one.kind === 'sit')),
      fall: scripts.filter((script) => script.episodes.some((one) => one.kind === 'wobble-off')),
      support: scripts.filter((script) =>
        script.episodes.some((one) => one.kind === 'hold' && one.support === 'hands-on'),
      ),
      pant: scripts.filter((script) => script.overlays?.some((one) => one.kind === 'pant')),
      wag: scripts.filter((script) => script.overlays?.some((one) => one.kind === 'tail-wag')),
      slip: scripts.filter((script) => script.mount?.slip),
      tremor: scripts.filter((script) => script.dog.tremor),
    }
    for (const [name, some] of Object.entries(has)) {
      expect(some.length, name).toBeGreaterThan(10)
      expect(some.length, name).toBeLessThan(300)
    }
  })
})

describe('randomSession', () => {
  it('gives the same recording for the same seed', () => {
    expect(randomSession(5)).toEqual(randomSession(5))
  })

  it('plays without gaps in the truth: intervals ascend, do not overlap and lie in the recording', () => {
    for (let seed = 0; seed < 12; seed++) {
      const { script, session } = randomSession(seed)
      const { stableIntervals, lostSamples } = session.truth
      expect(stableIntervals.length).toBeGreaterThanOrEqual(3)
      stableIntervals.forEach(({ fromS, toS, swayRmsHorizontal }, i) => {
        expect(toS).toBeGreaterThan(fromS)
        if (i > 0) expect(fromS).toBeGreaterThan(stableIntervals[i - 1].toS)
        expect(swayRmsHorizontal).toBeGreaterThan(0)
      })
      const durationS = totalDurationS(script.episodes)
      expect(stableIntervals[stableIntervals.length - 1].toS).toBeLessThanOrEqual(durationS)
      expect(session.trace.t.length + lostSamples).toBe(Math.floor(durationS * session.truth.rateHz))
    }
  })
})
