import type { HoldCue } from './hold-cues'

export interface Note {
  atS: number
  frequencyHz: number
  lengthS: number
  /** Peak, 0..1, before the volume. */
  gain: number
  wave: OscillatorType
}

const note = (atS: number, frequencyHz: number, lengthS: number, gain: number): Note => ({
  atS,
  frequencyHz,
  lengthS,
  gain,
  wave: 'sine',
})

/** Sounds there are: the cues of a hold, and the end of the quiet stand. */
export type Sound = HoldCue | 'quiet stand'

/** Each sound differs in rhythm and in the direction of its pitch, not in loudness alone. */
export const CUE_NOTES: Record<Sound, readonly Note[]> = {
  second: [note(0, 660, 0.05, 0.35)],
  target: [note(0, 660, 0.14, 0.8), note(0.17, 990, 0.24, 0.8)],
  break: [note(0, 220, 0.3, 0.9)],
  stop: [0, 0.75].flatMap((atS) => [note(atS, 740, 0.26, 0.9), note(atS + 0.28, 494, 0.4, 0.9)]),
  'quiet stand': [440, 554, 660].map((frequencyHz, k) => note(k * 0.2, frequencyHz, 0.18, 0.7)),
  'no signal': [0, 0.22, 0.44].map((atS) => ({ ...note(atS, 440, 0.1, 0.7), wave: 'triangle' as const })),
}

/** Pitches for a loudspeaker, and an octave lower for earphones or a dog that minds high notes. */
export type PitchChoice = 'usual' | 'low'
export const PITCH_FACTOR: Record<PitchChoice, number> = { usual: 1, low: 0.5 }

export const CUE_LEGEND: readonly { cue: Sound; sound: string; meaning: string }[] = [
  { cue: 'second', sound: 'Short tick', meaning: 'one more second held' },
  { cue: 'target', sound: 'Two rising notes', meaning: 'the hold target is reached: reward and rest' },
  { cue: 'break', sound: 'One low note', meaning: 'the hold broke' },
  {
    cue: 'stop',
    sound: 'Two falling notes, twice',
    meaning: 'time to stop; again every 6 s, four times at most, until you tap Seen',
  },
  { cue: 'quiet stand', sound: 'Three rising notes', meaning: 'the quiet stand is done' },
  { cue: 'no signal', sound: 'Three quick notes', meaning: 'no signal: nothing is being measured' },
]

/** The same cues for the hand, ms on and off in turn. */
export const CUE_VIBRATION: Record<HoldCue, readonly number[]> = {
  second: [20],
  target: [90, 60, 200],
  break: [350],
  stop: [450, 150, 450, 150, 450],
  'no signal': [90, 90, 90, 90, 90],
}
