import { describe, expect, test, vi } from 'vitest'
import { say, speechMissing, SpokenCounts } from '../../dashboard/lib/spoken-counts.ts'
import type { Speech } from '../../dashboard/lib/spoken-counts.ts'

describe('spoken counts', () => {
  test('count the full seconds on its own, not those of the hold', () => {
    const counts = new SpokenCounts()
    // Hands come off at 4 s of the hold.
    const said = Array.from({ length: 70 }, (_, k) => counts.next([], Math.max(0, k / 10 - 4)))
    expect(said.filter((words) => words !== null)).toEqual(['1', '2'])
  })

  test('say target and stop in place of the number, and begin at one in the next hold', () => {
    const counts = new SpokenCounts()
    expect(counts.next(['target'], 5)).toBe('Target')
    expect(counts.next(['stop'], 6)).toBe('Stop')
    expect(counts.next(['no signal'], 0)).toBe('No signal')
    expect(counts.next(['break'], 0)).toBeNull()
    expect(counts.next(['second'], 1)).toBe('1')
  })

  test('a late number gives way to the newest', () => {
    const speech: Speech = { getVoices: () => [], cancel: vi.fn(), speak: vi.fn() }
    say(speech, '3')
    expect(speech.cancel).toHaveBeenCalledBefore(vi.mocked(speech.speak))
  })

  test('say in words why nothing is spoken', () => {
    expect(speechMissing(null)).toContain('cannot speak')
    const speech = { getVoices: () => [] as { lang: string }[], cancel() {}, speak() {} }
    expect(speechMissing(speech)).toContain('no voice installed')
    expect(speechMissing({ ...speech, getVoices: () => [{ lang: 'en-GB' }] })).toBeNull()
  })
})
