import { describe, expect, it } from 'vitest'
import { randomScript } from '#signal/simulator/population'
import { simulateSession } from '#signal/simulator/session'
import { padHold, scene } from '../signal/simulator/scenes.ts'
import { detect, detectSession } from './population.ts'
import { slippedSession } from './slips.ts'
import { summarise } from './summary.ts'

const slipped = Array.from({ length: 30 }, (_, i) => ({
  seed: `slip/${i}`,
  population: slippedSession(`slip/${i}`),
}))
const marked = slipped.map(({ seed, population }) => detectSession(seed, population, true))
const unmarked = slipped.map(({ seed, population }) => detectSession(seed, population, false))

describe('findMountShift', () => {
  it('finds nine of ten slips of 12° to 25° in sessions with marks, with their angle and time', () => {
    const found = marked.filter(({ shift }) => shift)
    expect(found.length / marked.length).toBeGreaterThanOrEqual(0.9)
    const timesOff: number[] = []
    for (const { population, shift, seed } of found) {
      const slip = population.session.truth.slip!
      // The new stance may be that on a rocker board, which lifts the front by 6°.
      expect(Math.abs(shift!.angleDeg - slip.angleDeg), seed).toBeLessThan(8)
      timesOff.push(Math.abs(shift!.atS - slip.atS))
    }
    timesOff.sort((a, b) => a - b)
    expect(timesOff[Math.floor(timesOff.length / 2)]).toBeLessThanOrEqual(0.5)
    // A slip while the dog moves about can be placed only as well as its direction shows then.
    expect(timesOff.at(-1)).toBeLessThanOrEqual(12)
  })

  it('lets holds after a slip be found as before it', () => {
    expect(summarise(marked).recall).toBeGreaterThanOrEqual(0.95)
    expect(summarise(marked).falsePer30Min).toBeLessThan(1)
  })

  it('does so without marks too, where the quietest stretch may lie after the slip', () => {
    expect(summarise(unmarked).recall).toBeGreaterThanOrEqual(0.95)
    expect(summarise(unmarked).falsePer30Min).toBeLessThan(1)
    expect(unmarked.filter(({ shift }) => shift).length / unmarked.length).toBeGreaterThanOrEqual(0.9)
    const late = unmarked.filter(
      ({ population, reference }) => reference!.fromS > population.session.truth.slip!.atS,
    )
    expect(late.length / unmarked.length).toBeLessThanOrEqual(0.1)
  })

  it.each([12, 20, 24, 30])(
    'takes a still sit of %i° before the first stand for a sit, without marks',
    (pitchDeg) => {
      const { trace } = simulateSession(
        scene([
          { kind: 'sit', durationS: 25, pitchDeg },
          { kind: 'rest', durationS: 8 },
          { kind: 'step-up', durationS: 2 },
          padHold(12),
          { kind: 'step-down', durationS: 1.5 },
          { kind: 'rest', durationS: 10 },
          { kind: 'step-up', durationS: 2 },
          padHold(12),
          { kind: 'step-down', durationS: 1.5 },
          { kind: 'rest', durationS: 8 },
        ]),
      )
      expect(detect(trace, []).shift).toBeNull()
    },
  )

  it('finds none where the harness stays, however often the dog sits and returns', () => {
    for (let i = 0; i < 60; i++) {
      const script = randomScript(`stay/${i}`)
      const sits = script.episodes.filter(({ kind }) => kind === 'sit').length
      if (sits === 0) continue
      const { trace } = simulateSession({ ...script, mount: { rotation: script.mount!.rotation } })
      expect(detect(trace).shift, script.seed.toString()).toBeNull()
      expect(detect(trace, []).shift, script.seed.toString()).toBeNull()
    }
  })

  it.each([20, 24, 30, 45])('takes a sit of %i° to the end of the recording for a sit', (pitchDeg) => {
    const { trace } = simulateSession(
      scene([
        { kind: 'quiet-stand', durationS: 12 },
        { kind: 'rest', durationS: 8 },
        { kind: 'step-up', durationS: 2 },
        padHold(10),
        { kind: 'step-down', durationS: 1.5 },
        { kind: 'sit', durationS: 25, pitchDeg },
      ]),
    )
    const sitting = cutTo(trace, 56)
    expect(detect(sitting).shift).toBeNull()
    expect(detect(sitting).found.filter(({ fromS }) => fromS > 35)).toEqual([])
  })
})

/** The recording up to a time: it ends in the sit. */
function cutTo(trace: ReturnType<typeof simulateSession>['trace'], toS: number) {
  const n = trace.t.findIndex((t) => t >= toS)
  const cut = (x: Float64Array) => x.slice(0, n)
  const acc = { x: cut(trace.acc.x), y: cut(trace.acc.y), z: cut(trace.acc.z) }
  return { ...trace, t: cut(trace.t), acc, marks: trace.marks.filter(({ atS }) => atS < toS) }
}
