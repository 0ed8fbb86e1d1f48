import { describe, expect, test } from 'vitest'
import { CUE_LEGEND, CUE_NOTES } from '../../dashboard/lib/cue-notes.ts'
import { tonePitchHz } from '../../dashboard/lib/sway-tone.ts'

describe('sway tone', () => {
  test('is at 330 Hz on the floor and goes up half an octave for every doubling of the sway', () => {
    expect(tonePitchHz(1)).toBeCloseTo(330, 9)
    // Half an octave is the frequency ratio √2 (equal temperament).
    expect(tonePitchHz(2) / tonePitchHz(1)).toBeCloseTo(Math.SQRT2, 12)
    expect(tonePitchHz(4) / tonePitchHz(1)).toBeCloseTo(2, 12)
  })

  test('keeps to its ends however still or lively the dog is', () => {
    expect(tonePitchHz(0)).toBe(tonePitchHz(0.5))
    expect(tonePitchHz(1e6)).toBe(tonePitchHz(16))
    expect(tonePitchHz(16)).toBeCloseTo(1320, 9)
  })

  test('lies an octave lower where low pitches were chosen', () => {
    expect(tonePitchHz(3, 'low')).toBeCloseTo(tonePitchHz(3) / 2, 12)
  })
})

describe('notes of the cues', () => {
  const shapeOf = (cue: keyof typeof CUE_NOTES) =>
    CUE_NOTES[cue].map((note, k, all) =>
      Math.sign(note.frequencyHz - (all[k - 1]?.frequencyHz ?? note.frequencyHz)),
    )

  test('differ in number or in the direction of the pitch, so that loudness is never the only difference', () => {
    const shapes = CUE_LEGEND.map(({ cue }) => `${shapeOf(cue).join()} ${CUE_NOTES[cue][0].lengthS > 0.1}`)
    expect(new Set(shapes).size).toBe(CUE_LEGEND.length)
  })

  test('target rises and stop falls', () => {
    expect(shapeOf('target')).toEqual([0, 1])
    expect(shapeOf('stop')).toEqual([0, -1, 1, -1])
  })
})
