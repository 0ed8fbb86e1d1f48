import type { HoldCue } from './hold-cues'

/** What a voice says: the seconds on its own as they fill, and the two cues that matter most. */
export class SpokenCounts {
  #saidS = 0

  /** Words due now, or null. `countedS` are the seconds of this hold that count towards the target. */
  next(cues: readonly HoldCue[], countedS: number): string | null {
    const wholeS = Math.floor(countedS)
    const fresh = wholeS > this.#saidS
    this.#saidS = wholeS
    if (cues.includes('stop')) return 'Stop'
    if (cues.includes('no signal')) return 'No signal'
    if (cues.includes('target')) return 'Target'
    return fresh ? String(wholeS) : null
  }
}

/** The parts of the browser's speech used here, so that tests can pass a fake. */
export interface Speech {
  getVoices(): readonly { lang: string }[]
  cancel(): void
  speak(words: string): void
}

/** The browser's own voice, or null when it has no speech at all. */
export function browserSpeech(volume: () => number): Speech | null {
  if (!('speechSynthesis' in window)) return null
  const { speechSynthesis } = window
  return {
    getVoices: () => speechSynthesis.getVoices(),
    cancel: () => speechSynthesis.cancel(),
    speak: (words) => {
      const utterance = new SpeechSynthesisUtterance(words)
      utterance.lang = 'en'
      // A count must be over before the next second.
      utterance.rate = 1.3
      utterance.volume = volume()
      speechSynthesis.speak(utterance)
    },
  }
}

/** Why nothing is spoken although it was asked for; null when a voice is there. */
export function speechMissing(speech: Speech | null): string | null {
  if (!speech) return 'This browser cannot speak; the other sounds are not touched by that.'
  if (speech.getVoices().length === 0) {
    return 'This device has no voice installed (they are added in its language settings); the other sounds are not touched by that.'
  }
  return null
}

/** Says the newest words only: a count that is late is wrong. */
export function say(speech: Speech, words: string) {
  speech.cancel()
  speech.speak(words)
}
