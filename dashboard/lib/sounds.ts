import type { HoldCue } from './hold-cues'

interface Note {
  atS: number
  frequencyHz: number
  lengthS: number
  gain: number
  wave: OscillatorType
}

/** Each cue differs in rhythm and pitch, not in loudness alone. */
const NOTES: Record<HoldCue, readonly Note[]> = {
  second: [{ atS: 0, frequencyHz: 660, lengthS: 0.05, gain: 0.35, wave: 'sine' }],
  target: [
    { atS: 0, frequencyHz: 660, lengthS: 0.14, gain: 0.8, wave: 'sine' },
    { atS: 0.17, frequencyHz: 990, lengthS: 0.24, gain: 0.8, wave: 'sine' },
  ],
  break: [{ atS: 0, frequencyHz: 196, lengthS: 0.3, gain: 0.9, wave: 'sine' }],
  'no signal': [0, 0.22, 0.44].map((atS) => ({
    atS,
    frequencyHz: 440,
    lengthS: 0.1,
    gain: 0.7,
    wave: 'triangle' as const,
  })),
}

export const CUE_LEGEND: readonly { cue: HoldCue; sound: string; meaning: string }[] = [
  { cue: 'second', sound: 'Short tick', meaning: 'one more second held' },
  {
    cue: 'target',
    sound: 'Two rising notes',
    meaning: 'the hold target you typed is reached: reward and rest',
  },
  { cue: 'break', sound: 'One low note', meaning: 'the hold broke' },
  { cue: 'no signal', sound: 'Three quick notes', meaning: 'no signal: nothing is being measured' },
]

/** Plays the cues through Web Audio. `start` must run inside a tap: browsers keep pages silent until then. */
export class HoldSounds {
  #context: AudioContext | null = null
  #output: GainNode | null = null
  #volume = 0.5

  get running() {
    return this.#context?.state === 'running'
  }

  async start(): Promise<void> {
    if (!this.#context) {
      this.#context = new AudioContext()
      this.#output = this.#context.createGain()
      this.#output.connect(this.#context.destination)
      this.volume = this.#volume
    }
    await this.#context.resume()
  }

  set volume(share: number) {
    this.#volume = share
    // Squared: loudness then follows the slider more evenly.
    if (this.#output) this.#output.gain.value = share * share
  }

  play(cue: HoldCue) {
    if (!this.#context || !this.#output) return
    for (const note of NOTES[cue]) this.#note(this.#context, this.#output, note)
  }

  #note(context: AudioContext, output: GainNode, note: Note) {
    const startS = context.currentTime + note.atS
    const envelope = context.createGain()
    // A 5 ms rise and a fall to silence avoid clicks.
    envelope.gain.setValueAtTime(0, startS)
    envelope.gain.linearRampToValueAtTime(note.gain, startS + 0.005)
    envelope.gain.exponentialRampToValueAtTime(0.001, startS + note.lengthS)
    const oscillator = context.createOscillator()
    oscillator.type = note.wave
    oscillator.frequency.value = note.frequencyHz
    oscillator.connect(envelope).connect(output)
    oscillator.start(startS)
    oscillator.stop(startS + note.lengthS + 0.02)
  }

  async stop(): Promise<void> {
    const context = this.#context
    this.#context = null
    this.#output = null
    await context?.close()
  }
}
