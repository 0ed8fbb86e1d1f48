import { describe, expect, it } from 'vitest'
import type { Reference } from '#signal/hold/reference'
import { assignRoles } from '#signal/session/roles'
import type { Mark } from '#signal/trace/trace'
import { madeHold } from './made-holds.ts'

const reference = (fromS: number, toS: number): Reference => ({
  fromS,
  toS,
  basis: 'quietest stretch',
  gravity: [0, 0, 9.8],
  motionVariance: 0.001,
  highPower: 0.001,
  swayMs2: 0.03,
})
const rolesOf = (marks: readonly Mark[], found: Reference | null, spans: [number, number][]) => {
  const holds = spans.map(([fromS, toS]) => madeHold(fromS, toS))
  assignRoles(holds, marks, found)
  return holds
}
const mark = (kind: Mark['kind'], atS: number): Mark => ({ kind, atS })

describe('assignRoles', () => {
  it('sets the holds of marked quiet stands apart, by their middle', () => {
    const marks = [mark('quiet-stand-start', 2), mark('quiet-stand-end', 12), mark('quiet-stand-start', 60)]
    const holds = rolesOf(marks, reference(2, 12), [
      [0, 12.5],
      [11, 30],
      [61, 70],
    ])
    expect(holds.map(({ role }) => role)).toEqual(['quiet stand', 'exercise', 'quiet stand'])
    expect(holds[0].reason).toBeUndefined()
  })

  it('ends an unended quiet stand where a repetition starts', () => {
    const marks = [mark('quiet-stand-start', 0), mark('repetition-start', 20)]
    expect(rolesOf(marks, reference(0, 10), [[0, 12], [22, 30]]).map(({ role }) => role)).toEqual(['quiet stand', 'exercise']) // prettier-ignore
  })

  it('without marks takes an opening hold for the quiet stand only when it is the quietest stretch, and says so', () => {
    const opening = rolesOf([], reference(3, 8), [
      [0, 12],
      [30, 40],
    ])
    expect(opening.map(({ role }) => role)).toEqual(['quiet stand', 'exercise'])
    expect(opening[0].reason).toContain('taken as the quiet stand')
    const elsewhere = rolesOf([], reference(31, 36), [
      [0, 12],
      [30, 40],
    ])
    expect(elsewhere.map(({ role }) => role)).toEqual(['exercise', 'exercise'])
  })

  it('never takes the only hold, nor one that begins later, nor any without a reference', () => {
    expect(rolesOf([], reference(3, 8), [[0, 12]])[0].role).toBe('exercise')
    expect(rolesOf([], reference(5, 10), [[4, 12], [30, 40]])[0].role).toBe('exercise') // prettier-ignore
    expect(rolesOf([mark('quiet-stand-start', 0)], null, [[0, 12]])[0].role).toBe('exercise')
  })
})
