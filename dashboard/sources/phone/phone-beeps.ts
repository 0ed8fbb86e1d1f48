interface Beep {
  readonly atS: number
  readonly frequencyHz: number
  readonly lengthS: number
}

/** Told apart by rhythm and direction, not by pitch alone; heard through a harness pocket. */
const BEEPS = {
  start: [
    { atS: 0, frequencyHz: 880, lengthS: 0.18 },
    { atS: 0.25, frequencyHz: 1320, lengthS: 0.35 },
  ],
  stop: [
    { atS: 0, frequencyHz: 1320, lengthS: 0.18 },
    { atS: 0.25, frequencyHz: 880, lengthS: 0.35 },
  ],
  'no signal': [0, 0.2, 0.4].map((atS) => ({ atS, frequencyHz: 990, lengthS: 0.1 })),
} satisfies Record<string, readonly Beep[]>

export type BeepKind = keyof typeof BEEPS

/** Beeps of the phone in the harness. `allow` must run inside a tap: pages are silent until then. */
export class PhoneBeeps {
  #context: AudioContext | null = null

  async allow(): Promise<void> {
    this.#context ??= new AudioContext()
    await this.#context.resume()
  }

  play(kind: BeepKind) {
    const context = this.#context
    if (!context) return
    for (const { atS, frequencyHz, lengthS } of BEEPS[kind]) {
      const startS = context.currentTime + atS
      const envelope = context.createGain()
      // A 5 ms rise and a fall to silence avoid clicks.
      envelope.gain.setValueAtTime(0, startS)
      envelope.gain.linearRampToValueAtTime(0.9, startS + 0.005)
      envelope.gain.exponentialRampToValueAtTime(0.001, startS + lengthS)
      const oscillator = context.createOscillator()
      oscillator.type = 'triangle'
      oscillator.frequency.value = frequencyHz
      oscillator.connect(envelope).connect(context.destination)
      oscillator.start(startS)
      oscillator.stop(startS + lengthS + 0.02)
    }
  }

  close() {
    void this.#context?.close()
    this.#context = null
  }
}
