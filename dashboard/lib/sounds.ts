import { CUE_NOTES, PITCH_FACTOR } from './cue-notes'
import type { Note, PitchChoice, Sound } from './cue-notes'
import { SwayTone } from './sway-tone'

/** How long the tone of the legend sounds, s, while it rises from the floor baseline to four times it. */
const DEMONSTRATION_S = 2

/** Puts a cue on the clock of a context, beginning at `atS`; the same for loudspeaker and file. */
export function scheduleCue(
  context: BaseAudioContext,
  output: AudioNode,
  cue: Sound,
  atS: number,
  pitch: PitchChoice = 'usual',
) {
  for (const note of CUE_NOTES[cue]) scheduleNote(context, output, note, atS, PITCH_FACTOR[pitch])
}

function scheduleNote(
  context: BaseAudioContext,
  output: AudioNode,
  note: Note,
  atS: number,
  pitchFactor: number,
) {
  const startS = atS + note.atS
  const envelope = context.createGain()
  // A 5 ms rise and a fall to silence avoid clicks.
  envelope.gain.setValueAtTime(0, startS)
  envelope.gain.linearRampToValueAtTime(note.gain, startS + 0.005)
  envelope.gain.exponentialRampToValueAtTime(0.001, startS + note.lengthS)
  const oscillator = context.createOscillator()
  oscillator.type = note.wave
  oscillator.frequency.value = note.frequencyHz * pitchFactor
  oscillator.connect(envelope).connect(output)
  oscillator.start(startS)
  oscillator.stop(startS + note.lengthS + 0.02)
}

/** Plays cues and the sway tone. `start` must run inside a tap: browsers keep pages silent until then. */
export class HoldSounds {
  pitch: PitchChoice = 'usual'
  /** Told when the browser silences the page, or lets it sound again. */
  onRunning: (running: boolean) => void = () => {}
  #context: AudioContext | null = null
  #output: GainNode | null = null
  #tone: SwayTone | null = null
  #volume = 0.5
  #demonstratesUntilS = 0

  get running() {
    return this.#context?.state === 'running'
  }

  async start(): Promise<void> {
    if (!this.#context) {
      const context = new AudioContext()
      this.#context = context
      this.#output = context.createGain()
      this.#output.connect(context.destination)
      this.#tone = new SwayTone(context, this.#output)
      this.volume = this.#volume
      context.onstatechange = () => this.onRunning(context.state === 'running')
    }
    await this.#context.resume()
  }

  set volume(share: number) {
    this.#volume = share
    // Squared: loudness then follows the slider more evenly.
    if (this.#output) this.#output.gain.value = share * share
  }

  play(cue: Sound) {
    const [context, output] = [this.#context, this.#output]
    if (context && output) scheduleCue(context, output, cue, context.currentTime, this.pitch)
  }

  /** The tone follows the sway in multiples of the floor baseline; null keeps it silent. */
  followSway(floors: number | null) {
    const context = this.#context
    if (!context || context.currentTime < this.#demonstratesUntilS) return
    this.#tone?.follow(floors, context.currentTime, this.pitch)
  }

  /** The tone of the legend: from the floor baseline up to four times it. */
  demonstrateTone() {
    const context = this.#context
    if (!context || !this.#tone) return
    const startS = context.currentTime
    this.#demonstratesUntilS = startS + DEMONSTRATION_S
    for (let floors = 1, k = 0; floors <= 4; floors *= 1.15, k++) {
      this.#tone.follow(floors, startS + (k * DEMONSTRATION_S) / 10, this.pitch)
    }
    this.#tone.follow(null, this.#demonstratesUntilS, this.pitch)
  }

  async stop(): Promise<void> {
    const context = this.#context
    this.#context = null
    this.#output = null
    this.#tone = null
    this.#demonstratesUntilS = 0
    if (context) context.onstatechange = null
    await context?.close()
  }
}
