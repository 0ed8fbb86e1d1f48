import type { SensorSource, SourceHandlers, SourceState } from '../source'
import type { FlatPhone } from './flat-step'
import { listenToMotion } from './motion-events'
import type { MotionSample, MotionWindow } from './motion-events'
import { StampIndex } from './stamp-index'
import { longStepShare, MAX_LONG_SHARE, unevenWords } from './unevenness'

/** Samples of one packet: a tenth of a second at the usual 60 Hz. */
const PACKET_SAMPLES = 6
const STALLED_AFTER_MS = 1500
const WATCH_MS = 500
/** Stamps looked at for unevenness: 10 s at 60 Hz. */
const WATCHED_STAMPS = 600

export interface PhoneSetting {
  readonly phone: FlatPhone
  /** How it sits, as `parseMount` reads it. */
  readonly mount: string
}

const STREAMING: SourceState = { phase: 'streaming', words: 'This phone delivers motion data.' }
const HIDDEN: SourceState = {
  phase: 'stalled',
  words:
    'The page is hidden or the screen is off, so the phone gives no motion data. Bring the page to the front.',
}
const SILENT: SourceState = {
  phase: 'stalled',
  words: 'The phone gives no motion data. Keep this page in front and battery saving off.',
}

/**
 * This phone as a sensor, through `devicemotion`. Values are as the browser gave them, in specific force
 * by the sign of the flat step; rotation rates are right-handed in every engine and keep theirs. Samples
 * have no counter: `StampIndex` makes the index from their stamps.
 */
export class PhoneSource implements SensorSource {
  readonly sensor = 'phone'
  readonly #setting: PhoneSetting
  readonly #page: MotionWindow & Pick<Window, 'document'>
  readonly #index: StampIndex
  #handlers: SourceHandlers | null = null
  #remove: () => void = () => {}
  #state: SourceState | null = null
  #firstIndex = 0
  #waiting: MotionSample[] = []
  #stampsMs: number[] = []
  #newestMs = 0

  constructor(setting: PhoneSetting, page: MotionWindow & Pick<Window, 'document'> = window) {
    this.#setting = setting
    this.#page = page
    this.#index = new StampIndex(setting.phone.rateHz)
  }

  start(handlers: SourceHandlers) {
    const { phone, mount } = this.#setting
    this.#handlers = handlers
    this.#newestMs = this.#page.performance.now()
    handlers.onInfo({
      nominalRateHz: phone.rateHz,
      channels: phone.channels,
      ...(phone.resolutionMs2 !== null && { resolutionMs2: phone.resolutionMs2 }),
      mount,
      description: { name: 'phone, motion sensors of its browser' },
    })
    const stopListening = listenToMotion((sample) => this.#take(sample), this.#page)
    const timer = setInterval(() => this.#watch(), WATCH_MS)
    const { document } = this.#page
    const onVisibility = () => this.#watch()
    document.addEventListener('visibilitychange', onVisibility)
    this.#remove = () => {
      stopListening()
      clearInterval(timer)
      document.removeEventListener('visibilitychange', onVisibility)
    }
    this.#tell({ phase: 'connecting', words: 'Waiting for the first motion data.' })
  }

  stop() {
    this.#flush()
    this.#remove()
    this.#handlers = null
  }

  #take(sample: MotionSample | null) {
    // An event without values, or without rotation where there was some, is a sample that never came.
    if (!sample || (this.#setting.phone.channels === 6 && !sample.gyr)) return
    this.#newestMs = sample.atMs
    this.#stampsMs.push(sample.atMs)
    if (this.#stampsMs.length > 2 * WATCHED_STAMPS) this.#stampsMs = this.#stampsMs.slice(-WATCHED_STAMPS)
    const index = this.#index.place(sample.atMs)
    if (index === null) return
    if (index !== this.#firstIndex + this.#waiting.length) this.#flush()
    if (this.#waiting.length === 0) this.#firstIndex = index
    this.#waiting.push(sample)
    if (this.#waiting.length >= PACKET_SAMPLES) this.#flush()
    if (this.#state?.phase !== 'streaming') this.#watch()
  }

  #flush() {
    const samples = this.#waiting
    if (samples.length === 0) return
    this.#waiting = []
    const { channels, sign } = this.#setting.phone
    const values = [0, 1, 2].map((axis) => Float64Array.from(samples, ({ acc }) => sign * acc[axis]))
    if (channels === 6) {
      for (const axis of [0, 1, 2]) values.push(Float64Array.from(samples, ({ gyr }) => gyr![axis]))
    }
    this.#handlers?.onPacket({
      firstIndex: this.#firstIndex,
      arrivedAtMs: samples[samples.length - 1].atMs,
      values,
    })
  }

  #watch() {
    const silentMs = this.#page.performance.now() - this.#newestMs
    if (this.#page.document.visibilityState === 'hidden') return this.#tell(HIDDEN)
    if (silentMs > STALLED_AFTER_MS) {
      this.#flush()
      return this.#tell(SILENT)
    }
    if (this.#stampsMs.length === 0) return
    const share = longStepShare(this.#stampsMs.slice(-WATCHED_STAMPS))
    const isUneven = this.#stampsMs.length >= WATCHED_STAMPS && share > MAX_LONG_SHARE
    this.#tell(isUneven ? { phase: 'streaming', words: unevenWords(share) } : STREAMING)
  }

  #tell(state: SourceState) {
    if (state.phase === this.#state?.phase && state.words === this.#state.words) return
    this.#state = state
    this.#handlers?.onState(state)
  }
}
