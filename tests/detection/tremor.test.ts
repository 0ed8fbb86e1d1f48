import { describe, expect, it } from 'vitest'
import { decideOnTremor } from './tremor-sessions.ts'
import { summariseTremor } from './tremor-summary.ts'

// Seeds that no setting was chosen on; `table.ts` prints the same for more of them.
const DESIGNS = [2, 4, 'panting', 'tail wag', 'nothing'] as const
const decisions = Array.from({ length: 12 }, (_, i) =>
  DESIGNS.map((design) => decideOnTremor(`check/${i}`, design)),
).flat()

describe('tremor decisions on simulated sessions of known truth', () => {
  it('finds a tremor of twice the background and more in at least 95 % of holds and sessions', () => {
    const { holds, holdShare, sessionShare } = summariseTremor(decisions, [2, 4])
    expect(holds).toBeGreaterThan(60)
    expect(holdShare).toBeGreaterThanOrEqual(0.95)
    expect(sessionShare).toBeGreaterThanOrEqual(0.95)
  })

  it('tells its frequency within 0.1 Hz in the median and 0.25 Hz in 95 of 100', () => {
    const { peakErrorMedianHz, peakErrorP95Hz } = summariseTremor(decisions, [2, 4])
    expect(peakErrorMedianHz).toBeLessThanOrEqual(0.1)
    // Half a bin of the 2 s segments.
    expect(peakErrorP95Hz).toBeLessThanOrEqual(0.25)
  })

  it('calls panting and wagging a tremor in at most 2 % of holds and in no session', () => {
    const { holds, holdShare, sessionShare } = summariseTremor(decisions, ['panting', 'tail wag'])
    expect(holds).toBeGreaterThan(60)
    expect(holdShare).toBeLessThanOrEqual(0.02)
    expect(sessionShare).toBe(0)
  })

  it('finds none where there is none', () => {
    expect(summariseTremor(decisions, ['nothing']).holdShare).toBeLessThanOrEqual(0.02)
    expect(summariseTremor(decisions, ['nothing']).sessionShare).toBe(0)
  })
})
