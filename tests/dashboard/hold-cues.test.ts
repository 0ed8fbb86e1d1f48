import { describe, expect, test } from 'vitest'
import { HoldCues, STOP_EVERY_MS, STOP_TIMES } from '../../dashboard/lib/hold-cues.ts'
import type { CueInput, HoldCue } from '../../dashboard/lib/hold-cues.ts'

const input = (changes: Partial<CueInput>): CueInput => ({
  state: 'steady',
  holdS: 0,
  countedS: 0,
  openStops: 0,
  ...changes,
})

/** Cues of a sequence of hold times, ten windows a second. */
function cuesOf(holdTimesS: number[], targetS: number | null = 3): HoldCue[] {
  const cues = new HoldCues()
  return holdTimesS.flatMap((holdS, k) =>
    cues.next(input({ state: holdS > 0 ? 'steady' : 'moving', holdS, countedS: holdS }), targetS, k * 100),
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
      heard.push(...cues.next(input({ holdS: k / 10, countedS }), 3, k * 100))
      if (k === 69) expect(heard).not.toContain('target')
    }
    expect(heard.filter((cue) => cue === 'target')).toHaveLength(1)
  })

  test('no signal sounds at once and every 5 s until it is back, and at once when it goes again', () => {
    const cues = new HoldCues()
    const heard: number[] = []
    const at = (ms: number, state: CueInput['state']) => {
      if (cues.next(input({ state }), 5, ms).includes('no signal')) heard.push(ms)
    }
    for (let ms = 0; ms <= 11_000; ms += 100) at(ms, 'no signal')
    at(11_100, 'moving')
    at(11_200, 'no signal')
    expect(heard).toEqual([0, 5000, 10_000, 11_200])
  })
})

describe('stop cue', () => {
  /** When the stop sounded, ms; `openStops` for each tenth of a second. */
  function stopsAt(forMs: number, openStopsAt: (ms: number) => number, holds = true): number[] {
    const cues = new HoldCues()
    const at: number[] = []
    for (let ms = 0; ms < forMs; ms += 100) {
      const holdS = holds ? ms / 1000 : 0
      const due = cues.next(input({ holdS, countedS: holdS, openStops: openStopsAt(ms) }), null, ms)
      if (due.includes('stop')) at.push(ms)
    }
    return at
  }

  test('sounds at once, then every 6 s, four times in all', () => {
    const at = stopsAt(60_000, (ms) => (ms >= 1000 ? 1 : 0))
    expect(at).toEqual([0, 1, 2, 3].map((k) => 1000 + k * STOP_EVERY_MS))
    expect(at).toHaveLength(STOP_TIMES)
  })

  test('falls silent once it is acknowledged', () => {
    expect(stopsAt(60_000, (ms) => (ms >= 1000 && ms < 8000 ? 1 : 0))).toEqual([1000, 7000])
  })

  test('another reason sounds at once and starts the count anew', () => {
    expect(stopsAt(10_000, (ms) => (ms < 1000 ? 0 : ms < 3000 ? 1 : 2))).toEqual([1000, 3000, 9000])
  })

  test('sounds alone, also when a second fills or the target is reached at the same moment', () => {
    const cues = new HoldCues()
    cues.next(input({ holdS: 2.9, countedS: 2.9 }), 3, 0)
    expect(cues.next(input({ holdS: 3, countedS: 3, openStops: 1 }), 3, 100)).toEqual(['stop'])
  })

  test('does not use up the warning of a lost signal', () => {
    const cues = new HoldCues()
    expect(cues.next(input({ state: 'no signal', openStops: 1 }), 3, 0)).toEqual(['stop'])
    expect(cues.next(input({ state: 'no signal', openStops: 1 }), 3, 100)).toEqual(['no signal'])
  })
})
