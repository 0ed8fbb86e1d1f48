import { PITCH_FACTOR } from './cue-notes'
import type { PitchChoice } from './cue-notes'

/** Pitch of the tone when the dog sways as on the floor, Hz (the E above middle C, rounded). */
export const FLOOR_PITCH_HZ = 330
/** The sway that still changes the pitch, in multiples of the floor baseline. */
const LEAST_FLOORS = 0.5
const MOST_FLOORS = 16
/** Octaves per doubling of the sway: half an octave is plain to hear and keeps the range small. */
const OCTAVES_PER_DOUBLING = 0.5
/** Time constants, s: the pitch glides instead of jumping ten times a second. */
const GLIDE_S = 0.12
const FADE_S = 0.06
/** Quiet beside the cues, which lie between 0.35 and 0.9. */
const TONE_GAIN = 0.12

/**
 * Pitch of the sway tone, Hz: 330 Hz at the floor baseline, half an octave up for every doubling of
 * the sway, held at its ends below half the baseline (233 Hz) and above sixteen times it (1320 Hz).
 */
export function tonePitchHz(floors: number, pitch: PitchChoice = 'usual'): number {
  const kept = Math.min(MOST_FLOORS, Math.max(LEAST_FLOORS, floors))
  return FLOOR_PITCH_HZ * 2 ** (OCTAVES_PER_DOUBLING * Math.log2(kept)) * PITCH_FACTOR[pitch]
}

/** A soft continuous tone whose pitch follows the sway; silent until it is given a sway. */
export class SwayTone {
  readonly #oscillator: OscillatorNode
  readonly #gain: GainNode
  #sounding = false

  constructor(context: BaseAudioContext, output: AudioNode) {
    this.#gain = context.createGain()
    this.#gain.gain.value = 0
    this.#oscillator = context.createOscillator()
    this.#oscillator.frequency.value = FLOOR_PITCH_HZ
    this.#oscillator.connect(this.#gain).connect(output)
    this.#oscillator.start()
  }

  /** Follows the sway from `atS` of the context's clock on; null falls silent. */
  follow(floors: number | null, atS: number, pitch: PitchChoice = 'usual') {
    const sounding = floors !== null
    if (floors !== null) {
      const { frequency } = this.#oscillator
      // A tone that begins does so at its pitch: a glide from the last hold would be heard as sway.
      if (!this.#sounding) frequency.setValueAtTime(tonePitchHz(floors, pitch), atS)
      else frequency.setTargetAtTime(tonePitchHz(floors, pitch), atS, GLIDE_S)
    }
    if (sounding === this.#sounding) return
    this.#sounding = sounding
    this.#gain.gain.setTargetAtTime(sounding ? TONE_GAIN : 0, atS, FADE_S)
  }
}
