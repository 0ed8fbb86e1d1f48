import { describe, expect, it } from 'vitest'
import { analyse } from '#signal/report'
import { comparableMeasures } from '#signal/session/comparable'
import type { ComparableSpan } from '#signal/session/comparable'
import type { DogStretch } from '#signal/session/dog-stretch'
import { createRandom } from '#signal/simulator/random'
import { simulateSession } from '#signal/simulator/session'
import type { Episode } from '#signal/simulator/script'
import type { Mark, Trace } from '#signal/trace/trace'
import { padHold, scene } from '../simulator/scenes.ts'

const RATE_HZ = 100

/** A stretch whose ML and CC are noise of the given RMS each. */
function stretch(startS: number, lengthS: number, rms: number): DogStretch {
  const random = createRandom(`${startS}`)
  const n = Math.round(lengthS * RATE_HZ)
  const noise = () => Float64Array.from({ length: n }, () => rms * random.normal())
  const axes = { ml: noise(), cc: noise(), dv: noise() }
  return { startS, raw: axes, lowPassed: axes }
}

function comparable(stretches: readonly DogStretch[], spans: readonly ComparableSpan[]) {
  return comparableMeasures({
    stretchesOf: () => stretches,
    rateHz: RATE_HZ,
    sourceRateHz: RATE_HZ,
    tremorBand: { name: 'tremor', fromHz: 4, toHz: 12 },
    spans,
    basis: 'all hold time',
  })
}

describe('comparableMeasures', () => {
  it('lays 5 s pieces end to end from the start of each span and leaves the rest', () => {
    const whole = [stretch(0, 60, 0.1)]
    expect(comparable(whole, [{ fromS: 0, toS: 14.9 }]).pieces).toBe(2)
    expect(comparable(whole, [{ fromS: 0, toS: 15 }]).pieces).toBe(3)
    expect(comparable(whole, [{ fromS: 0, toS: 4.9 }, { fromS: 10, toS: 14.9 }]).pieces).toBe(0) // prettier-ignore
  })

  it('never lays a piece across a gap', () => {
    const parted = [stretch(0, 8, 0.1), stretch(8.2, 8, 0.1)]
    expect(comparable(parted, [{ fromS: 0, toS: 16.2 }]).pieces).toBe(2)
    const halves = [stretch(0, 4.5, 0.1), stretch(4.6, 4.5, 0.1)]
    expect(comparable(halves, [{ fromS: 0, toS: 9 }])).toMatchObject({ pieces: 0, swayRms: null, jerk: null })
  })

  it('takes the median over pieces, so that one wild piece does not count', () => {
    const three = [stretch(0, 5, 0.1), stretch(6, 5, 0.1), stretch(12, 5, 2)]
    const { swayRms, weak, reason } = comparable(three, [{ fromS: 0, toS: 17 }])
    // White noise of 0.1 in two axes: √2·0.1; 500 samples each give it to about 3 %.
    expect(Math.abs(swayRms! / (0.1 * Math.SQRT2) - 1)).toBeLessThan(0.15)
    expect(weak).toBe(false)
    expect(reason).toBeUndefined()
  })

  it('marks fewer than two pieces as weak and says so', () => {
    const { weak, reason, swayRms } = comparable([stretch(0, 7, 0.1)], [{ fromS: 0, toS: 7 }])
    expect(weak).toBe(true)
    expect(reason).toBe('gap-free pieces of 5 s: 1, needed: 2')
    expect(swayRms).toBeGreaterThan(0)
  })
})

const REPETITION: readonly Episode[] = [
  { kind: 'step-up', durationS: 2 },
  padHold(6, 'hands-on'),
  padHold(11),
  { kind: 'step-down', durationS: 1.5 },
  { kind: 'rest', durationS: 10 },
]

/** Quiet stand, then repetitions of 6 s hands on and 11 s hands off. */
function session(repetitions = 3) {
  return simulateSession(
    scene([
      { kind: 'quiet-stand', durationS: 12 },
      { kind: 'rest', durationS: 8 },
      ...Array.from({ length: repetitions }, () => REPETITION).flat(),
    ]),
  )
}

const report = (trace: Trace, marks: readonly Mark[] = trace.marks) =>
  analyse({ trace: { ...trace, marks }, unit: 'm/s2' }, { mount: 'identity' }).report

describe('the session part of a report', () => {
  const { trace, truth } = session()
  const marked = report(trace)

  it('sums hands-off time over the exercise, without the quiet stand', () => {
    const handsOff = truth.holds.filter(({ support }) => support === 'hands-off')
    const trueS = handsOff.reduce((sum, { fromS, toS }) => sum + toS - fromS, 0)
    // Edges of holds are right to about 0.1 s, three holds.
    expect(Math.abs(marked.session.handsOffHoldS! - trueS)).toBeLessThan(1)
    expect(marked.session.bestHoldS).toBeGreaterThan(10)
    expect(marked.session.bestHoldS).toBeLessThan(11.6)
    const exercise = marked.holds.filter(({ role }) => role === 'exercise')
    expect(exercise).toHaveLength(3)
    for (const { handsOffS, durationS } of exercise) expect(durationS - handsOffS!).toBeCloseTo(6, 0)
    expect(marked.session.supportShare).toBeCloseTo(6 / 17, 1)
  })

  it('groups repetitions by marks and counts each hold once', () => {
    expect(marked.session.repetitionBasis).toBe('marks')
    expect(marked.session.repetitions).toHaveLength(3)
    const holdS = marked.session.repetitions.reduce((sum, r) => sum + r.holdS, 0)
    const exerciseS = marked.holds.reduce((sum, h) => sum + (h.role === 'exercise' ? h.durationS : 0), 0)
    expect(holdS).toBeCloseTo(exerciseS, 9)
    expect(marked.session.fatigue.lastOverFirst).toBeGreaterThan(0)
  })

  it('compares hands-off pieces only: two of 5 s in each 11 s', () => {
    expect(marked.session.comparable).toMatchObject({ basis: 'hands-off hold time', pieces: 6, weak: false })
  })

  it('relates sway to the marked quiet stand, and to nothing without one', () => {
    const [stand] = marked.holds
    expect(stand.role).toBe('quiet stand')
    for (const hold of marked.holds.slice(1)) {
      const ratio = hold.sway.rms.horizontal / stand.sway.rms.horizontal
      // The marked stand and the hold found in it differ by their edges.
      expect(Math.abs(hold.sway.steadinessRatio! / ratio - 1)).toBeLessThan(0.1)
    }
    const unmarked = report(trace, trace.marks.filter(({ kind }) => !kind.startsWith('quiet'))) // prettier-ignore
    expect(unmarked.holds.every(({ sway }) => sway.steadinessRatio === null)).toBe(true)
    expect(unmarked.holds[1].sway.reason).toContain('no marked quiet stand')
  })

  it('does not know hands-off time without support marks, and says so', () => {
    const unmarked = report(trace, trace.marks.filter(({ kind }) => !kind.startsWith('support'))) // prettier-ignore
    expect(unmarked.session).toMatchObject({ handsOffHoldS: null, supportShare: null })
    expect(unmarked.session.reason).toContain('nobody marked hands on or off')
    expect(unmarked.session.comparable.basis).toBe('all hold time')
    expect(unmarked.session.bestHoldS).toBeGreaterThan(16)
    expect(unmarked.holds.every(({ handsOffS }) => handsOffS === null)).toBe(true)
  })

  it('finds repetitions by the pauses without any marks', () => {
    const unmarked = report(trace, [])
    expect(unmarked.session.repetitionBasis).toBe('pauses between holds')
    expect(unmarked.session.repetitions).toHaveLength(3)
    expect(unmarked.holds[0].role).toBe('quiet stand')
  })

  it('warns of a session beyond the common limits', () => {
    const long = report(session(10).trace)
    expect(long.session.planWarnings.join(' ')).toMatch(/10 repetitions, the limit is 5/)
    expect(long.session.planWarnings.join(' ')).toMatch(/lasted 5:\d\d, the limit is 5:00/)
    expect(marked.session.planWarnings).toEqual([])
  })
})

describe('comparableMeasures with flags', () => {
  it('leaves flagged pieces out of tremor, and says that a wag may have raised the sway', () => {
    const two = [stretch(0, 10, 0.1), stretch(20, 10, 0.1)]
    const measured = comparable(two, [
      { fromS: 0, toS: 10 },
      { fromS: 20, toS: 30, lookalike: 'tail wag' },
    ])
    const clean = comparable(two, [{ fromS: 0, toS: 10 }])
    expect(measured.pieces).toBe(4)
    expect(measured.tremorRms).toBe(clean.tremorRms)
    expect(measured.reason).toMatch(/tremor without 2 of 4 pieces.*tail wag.*raises sway/)
    const all = comparable(two, [{ fromS: 0, toS: 10, lookalike: 'panting' }])
    expect(all).toMatchObject({ tremorRms: null, weak: false })
  })

  it('leaves out pieces in which the sensor did not change', () => {
    const still = stretch(20, 10, 0)
    const measured = comparable([stretch(0, 10, 0.1), still], [{ fromS: 0, toS: 10 }, { fromS: 20, toS: 30 }]) // prettier-ignore
    expect(measured.pieces).toBe(2)
    expect(measured.reason).toMatch(/left out 2 in which the sensor did not change/)
    expect(comparable([still], [{ fromS: 20, toS: 30 }])).toMatchObject({
      pieces: 0,
      swayRms: null,
      weak: true,
    })
  })
})

describe('repetitions of a marked session', () => {
  it('take their sway from hands-off time only, so that a steadying hand does not pass for steadiness', () => {
    const { trace } = session(2)
    const whole = report(trace)
    const held: Mark[] = trace.marks.filter(({ kind }) => !kind.startsWith('support'))
    const [, second] = whole.session.repetitions
    const marks = [
      ...held,
      { atS: 0, kind: 'support-off' as const },
      { atS: second.fromS, kind: 'support-on' as const },
    ].sort((a, b) => a.atS - b.atS)
    const { repetitions, fatigue } = report(trace, marks).session
    expect(repetitions[0].swayRms).toBeGreaterThan(0)
    expect(repetitions[1]).toMatchObject({ swayRms: null, handsOffS: 0 })
    expect(repetitions[1].reason).toMatch(/hands-off/)
    expect(fatigue.slopePerRepetition).toBeNull()
  })
})
