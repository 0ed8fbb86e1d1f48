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

  it('changes from the foam pad to the rocker board in week 9', () => {
    for (const { week, exercise, setUp } of sessions) {
      expect(exercise).toBe(week < 9 ? 'stand on foam pad' : 'fore paws on rocker board')
      expect(setUp.surface).toBe(week < 9 ? 'foam pad' : 'rocker board')
    }
  })

  it('lets expected sway fall by 4 % a week but for the bad fortnight', () => {
    expect(demoWeekSwayMs2(2) / demoWeekSwayMs2(1)).toBeCloseTo(0.96, 12)
    expect(demoWeekSwayMs2(7) / demoWeekSwayMs2(6)).toBeCloseTo(0.96 * DEMO_COURSE.badFactor, 12)
    for (const { week, truth } of sessions) {
      // Day-to-day scatter of 7 % on the log scale: four deviations.
      expect(Math.abs(Math.log(truth.swayMs2 / demoWeekSwayMs2(week)))).toBeLessThan(0.28)
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
