import { CUE_VIBRATION } from './cue-notes'
import { HoldCues } from './hold-cues'
import type { CueInput, HoldCue } from './hold-cues'
import { soundMode, soundPitch, soundVolume, spokenCounts, vibration } from './sound-preferences.svelte'
import { HoldSounds } from './sounds'
import { browserSpeech, say, SpokenCounts } from './spoken-counts'
import type { Speech } from './spoken-counts'

/** What the signals of a hold are made of besides the cues. */
export interface SignalInput extends CueInput {
  /** Sway now in multiples of the floor baseline; null when there is none to follow. */
  swayFloors: number | null
}

/**
 * Sound, voice and vibration of the hold view, as chosen in this browser. `take` is called ten times
 * a second; nothing here is on before a person asked for it.
 */
export class HoldSignals {
  /** False while the browser keeps a wanted sound silent: silence must never mean fine. */
  sounding = $state(true)
  readonly sounds: HoldSounds
  readonly speech: Speech | null
  readonly #cues = new HoldCues()
  readonly #counts = new SpokenCounts()

  constructor(
    sounds = new HoldSounds(),
    speech: Speech | null = browserSpeech(() => Number(soundVolume.value) / 100),
  ) {
    this.sounds = sounds
    this.speech = speech
    sounds.onRunning = (running) => (this.sounding = running)
  }

  /** Lets the chosen sounds be heard; inside a tap, else the browser may keep them silent. */
  async start(): Promise<void> {
    if (soundMode.value === 'off') return
    this.sounding = this.sounds.running
    await this.sounds.start()
    this.sounding = this.sounds.running
  }

  async stop(): Promise<void> {
    this.speech?.cancel()
    await this.sounds.stop()
  }

  take(now: SignalInput, targetS: number | null, nowMs: number) {
    const due = this.#cues.next(now, targetS, nowMs)
    this.sounds.pitch = soundPitch.value
    this.sounds.volume = Number(soundVolume.value) / 100
    this.sounds.followSway(soundMode.value === 'tone' && now.state === 'steady' ? now.swayFloors : null)
    for (const cue of due) this.#give(cue)
    const words = this.#counts.next(due, now.countedS)
    if (words !== null && this.speech && spokenCounts.value === 'on') say(this.speech, words)
  }

  #give(cue: HoldCue) {
    if (soundMode.value !== 'off') this.sounds.play(cue)
    // Without an effect where the device cannot vibrate.
    if (vibration.value === 'on') navigator.vibrate?.([...CUE_VIBRATION[cue]])
  }
}
