import type { Problem } from '#protocol/resources'
import type { TraceFields } from '../../lib/upload'
import type { SensorSource, SourceHandlers } from '../source'
import type { TracePreview } from './playable'
import type { FromReplay, ToReplay } from './replay.worker'

export type ReadOutcome = { readonly preview: TracePreview } | { readonly problem: Problem }

/**
 * A trace file, played in real time as if a sensor sent it. While it is only watched it plays without its
 * marks, over and over; when the recording begins it begins anew, marks included, so that the session
 * holds the whole trace.
 */
export class ReplaySource implements SensorSource {
  readonly sensor = 'replay'
  readonly #worker: Worker
  readonly #fileName: string
  #preview: TracePreview | null = null
  #channels: 3 | 6 = 3
  #handlers: SourceHandlers | null = null
  #recorded = false
  #take = 0
  #read: ((outcome: ReadOutcome) => void) | null = null
  #failed: ((error: Error) => void) | null = null

  constructor(
    fileName: string,
    open: () => Worker = () => new Worker(new URL('./replay.worker.ts', import.meta.url), { type: 'module' }),
  ) {
    this.#fileName = fileName
    this.#worker = open()
    this.#worker.onmessage = (event: MessageEvent<FromReplay>) => this.#receive(event.data)
    this.#worker.onerror = (event) => this.#fail(event.message || 'unknown reason')
  }

  /** Reads the file; a problem may be answered by other fields and another call. */
  read(bytes: ArrayBuffer, fields: TraceFields): Promise<ReadOutcome> {
    return new Promise((resolve, reject) => {
      this.#read = resolve
      this.#failed = reject
      this.#post({ type: 'read', bytes, fields })
    })
  }

  start(handlers: SourceHandlers) {
    if (!this.#preview) throw new Error('ReplaySource.start requires a trace that was read')
    this.#handlers = handlers
    handlers.onInfo({
      nominalRateHz: this.#preview.rateHz,
      channels: this.#channels,
      description: { name: `Replay of ${this.#fileName}`.slice(0, 120) },
    })
    handlers.onState({ phase: 'streaming', words: `${this.#fileName} is being played.` })
    this.#play()
  }

  /** From its first sample, and with its marks; what comes now belongs to the recording. */
  recordingBegins() {
    this.#recorded = true
    if (this.#handlers) this.#play()
  }

  stop() {
    this.#handlers = null
    this.#worker.terminate()
  }

  #play() {
    this.#post({ type: 'play', withMarks: this.#recorded, take: ++this.#take })
  }

  #post(message: ToReplay) {
    this.#worker.postMessage(message)
  }

  #receive(message: FromReplay) {
    if ('take' in message && message.take !== this.#take) return
    switch (message.type) {
      case 'read':
        this.#preview = message.preview
        this.#channels = message.channels
        this.#read?.({ preview: message.preview })
        break
      case 'unreadable':
        this.#read?.({ problem: message.problem })
        break
      case 'samples':
        this.#handlers?.onPacket({
          firstIndex: message.firstIndex,
          values: message.values,
          arrivedAtMs: performance.now(),
        })
        break
      case 'mark':
        this.#handlers?.onMark(message.mark)
        break
      case 'end':
        this.#handlers?.onEnd()
        break
    }
  }

  #fail(reason: string) {
    const words = `The replay stopped (${reason}). Choose the file again.`
    this.#failed?.(new Error(words))
    this.#handlers?.onState({ phase: 'failed', words })
  }
}
