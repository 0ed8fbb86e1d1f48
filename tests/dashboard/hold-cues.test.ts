import { describe, expect, test } from 'vitest'
import { HoldCues } from '../../dashboard/lib/hold-cues.ts'
import type { HoldCue } from '../../dashboard/lib/hold-cues.ts'

/** Cues of a sequence of hold times, ten windows a second. */
function cuesOf(holdTimesS: number[], targetS: number | null = 3): HoldCue[] {
  const cues = new HoldCues()
  return holdTimesS.flatMap((holdS, k) =>
    cues.next({ state: holdS > 0 ? 'steady' : 'moving', holdS, countedS: holdS }, targetS, k * 100),
  )
}

const ramp = (toS: number) => Array.from({ length: Math.round(toS * 10) }, (_, k) => (k + 1) / 10)

describe('hold cues', () => {
  test('one tick per full second, and the target once in place of its tick', () => {
    expect(cuesOf(ramp(4.5))).toEqual(['second', 'second', 'target', 'second'])
  })

  test('a low note when a hold of at least a second breaks', () => {
    expect(cuesOf([...ramp(1.5), 0, 0])).toEqual(['second', 'break'])
    expect(cuesOf([...ramp(0.8), 0])).toEqual([])
  })

  test('the target sounds again in the next hold', () => {
    const cues = cuesOf([...ramp(3.2), 0, ...ramp(3.2)])
    expect(cues.filter((cue) => cue === 'target')).toHaveLength(2)
  })

  test('without a target there is no target sound, however long the hold', () => {
    expect(cuesOf(ramp(20), null)).not.toContain('target')
  })

  test('the target waits for the time on its own, and sounds once even when marks come late', () => {
    const cues = new HoldCues()
    const heard: HoldCue[] = []
    for (let k = 1; k <= 100; k++) {
      // Hands-off from 4 s on; at 8 s a late mark takes 2 s back.
      const countedS = Math.max(0, k / 10 - (k < 80 ? 4 : 6))
      heard.push(...cues.next({ state: 'steady', holdS: k / 10, countedS }, 3, k * 100))
      if (k === 69) expect(heard).not.toContain('target')
    }
    expect(heard.filter((cue) => cue === 'target')).toHaveLength(1)
  })

  test('no signal sounds at once and every 5 s until it is back', () => {
    const cues = new HoldCues()
    const heard: number[] = []
    for (let ms = 0; ms <= 11_000; ms += 100) {
      if (cues.next({ state: 'no signal', holdS: 0, countedS: 0 }, 5, ms).includes('no signal'))
        heard.push(ms)
    }
    expect(heard).toEqual([0, 5000, 10_000])
  })
})
