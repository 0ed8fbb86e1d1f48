import { describe, expect, it } from 'vitest'
import { liveDemoScript } from '#signal/simulator/live-demo'
import { DEMO_COURSE, demoSessionScripts, demoWeekSwayMs2 } from '#signal/simulator/programme'
import { simulateSession } from '#signal/simulator/session'
import { totalDurationS } from '#signal/simulator/exercise'

const END_US = Date.UTC(2026, 5, 15, 9) * 1000
const sessions = demoSessionScripts(END_US)

describe('demoSessionScripts', () => {
  it('gives sixteen weeks of four sessions, oldest first, the last on the day before the end', () => {
    expect(sessions).toHaveLength(64)
    for (let week = 1; week <= 16; week++) expect(sessions.filter((one) => one.week === week)).toHaveLength(4)
    const starts = sessions.map((one) => one.startedAtUs)
    expect([...starts].sort((a, b) => a - b)).toEqual(starts)
    expect(new Date(starts[63] / 1000).toISOString().slice(0, 10)).toBe('2026-06-14')
    expect(new Date(starts[0] / 1000).toISOString().slice(0, 10)).toBe('2026-02-24')
    expect(starts.every((startedAtUs) => Number.isInteger(startedAtUs))).toBe(true)
  })

  it('gives the same scripts for the same end date', () => {
    expect(demoSessionScripts(END_US)).toEqual(sessions)
  })

  it('goes on on the foam pad throughout, with one session a week on the rocker board from week 9', () => {
    for (const { week, session, exercise, setUp } of sessions) {
      const rocker = week >= 9 && session === 4
      expect(exercise).toBe(rocker ? 'fore paws on rocker board' : 'stand on foam pad')
      expect(setUp.surface).toBe(rocker ? 'rocker board' : 'foam pad')
    }
  })

  it('plays the same sessions whatever the date, and others with another seed', () => {
    const without = (some: typeof sessions) => some.map(({ script }) => ({ ...script, startedAtUs: 0 }))
    const later = demoSessionScripts(END_US + 3 * 86_400_000_000)
    expect(without(later)).toEqual(without(sessions))
    expect(later[0].startedAtUs - sessions[0].startedAtUs).toBe(3 * 86_400_000_000)
    expect(without(demoSessionScripts(END_US, 'another'))).not.toEqual(without(sessions))
  })

  it('lets the harness slip in one session of week 11, and says when each repetition was on', () => {
    expect(sessions.filter(({ truth }) => truth.slipped).map(({ week, session }) => [week, session])).toEqual(
      [[11, 2]],
    )
    const { script, repetitionsAtS } = sessions.find(({ truth }) => truth.slipped)!
    const { truth } = simulateSession(script)
    expect(truth.slip!.angleDeg).toBeGreaterThan(20)
    expect(truth.slip!.atS).toBeGreaterThan(repetitionsAtS[1])
    for (const atS of repetitionsAtS) {
      const hold = truth.holds.find(({ fromS, toS }) => fromS <= atS && atS < toS)
      expect(hold?.support).toBe('hands-off')
    }
  })

  it('lets expected sway fall by 4 % a week but for the bad fortnight', () => {
    expect(demoWeekSwayMs2(2) / demoWeekSwayMs2(1)).toBeCloseTo(0.96, 12)
    expect(demoWeekSwayMs2(7) / demoWeekSwayMs2(6)).toBeCloseTo(0.96 * DEMO_COURSE.badFactor, 12)
    for (const { week, session, truth } of sessions) {
      const expected = demoWeekSwayMs2(week, week >= 9 && session === 4)
      // Day-to-day scatter of 4 % on the log scale: four deviations.
      expect(Math.abs(Math.log(truth.swayMs2 / expected))).toBeLessThan(0.16)
      expect(truth.badWeek).toBe(week === 7 || week === 8)
    }
  })

  it('has worse mornings after the bad fortnight', () => {
    const share = (bad: boolean) => {
      const some = sessions.filter((one) => one.truth.badWeek === bad)
      return some.filter(({ checkIn }) => checkIn === 'tired' || checkIn === 'sore').length / some.length
    }
    expect(share(true)).toBeGreaterThan(0.5)
    expect(share(false)).toBeLessThan(0.3)
  })

  it('plays sessions of about three minutes with three repetitions whose sway follows the script', () => {
    const ratios = sessions
      .filter((_, i) => i % 8 === 0)
      .map(({ script, truth }) => {
        const played = simulateSession(script).truth
        expect(totalDurationS(script.episodes)).toBeGreaterThan(150)
        expect(totalDurationS(script.episodes)).toBeLessThan(240)
        expect(played.repetitions).toHaveLength(3)
        const off = played.holds.filter((hold) => hold.support === 'hands-off')
        return (
          Math.sqrt(off.reduce((sum, hold) => sum + hold.swayRmsHorizontal ** 2, 0) / off.length) /
          truth.swayMs2
        )
      })
    // Holds of 5–12 s scatter by about 15 %; fatigue and the edges of transients add 10–25 %.
    for (const ratio of ratios) {
      expect(ratio).toBeGreaterThan(0.8)
      expect(ratio).toBeLessThan(1.7)
    }
  })
})

describe('liveDemoScript', () => {
  it('gives about three minutes with a gyroscope, the same for the same seed, another for the next', () => {
    for (let seed = 0; seed < 5; seed++) {
      expect(totalDurationS(liveDemoScript(seed).episodes)).toBeGreaterThan(140)
      expect(totalDurationS(liveDemoScript(seed).episodes)).toBeLessThan(200)
    }
    expect(liveDemoScript(1)).toEqual(liveDemoScript(1))
    expect(liveDemoScript(1)).not.toEqual(liveDemoScript(2))
    const { trace, truth } = simulateSession(liveDemoScript(1))
    expect(trace.gyr).toBeDefined()
    expect(truth.repetitions).toHaveLength(3)
  })
})
