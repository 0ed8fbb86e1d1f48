import type { MarkMessage } from '#protocol/messages'
import { RunningClock } from '#signal/clock/running-clock'
import type { SocketStatus } from '../lib/socket'
import { Anchor } from './anchor'
import { Courier } from './courier'
import type { CourierOptions } from './courier'
import { FramePacker } from './frame-packer'
import { openIdbStore } from './idb-store'
import { LocalAnalyser } from './local-analyser'
import type { FromRecorder, RecordingPlan, ToRecorder } from './messages'
import type { KeptContent, OutboxStore } from './outbox-store'
import { MIN_MEASURED_S } from './rate-meter'
import { holdStream } from './stream-lock'
import type { HoldStream } from './stream-lock'

/** How often the numbers shown are renewed, ms. */
const PROGRESS_EVERY_MS = 250

export interface StreamRecorderParts extends CourierOptions {
  openStore?: () => Promise<OutboxStore>
  hold?: HoldStream
}

/**
 * One recording, from samples to the stored session: keeps, sends and analyses. Runs in a Worker,
 * and in tests without one.
 */
export class StreamRecorder {
  readonly #tell: (message: FromRecorder) => void
  readonly #openStore: () => Promise<OutboxStore>
  readonly #hold: HoldStream
  readonly #options: CourierOptions
  readonly #anchor = new Anchor()
  #recording: RecordingPlan | null = null
  #packer: FramePacker | null = null
  #analyser: LocalAnalyser | null = null
  #clock: RunningClock | null = null
  #clockFromS = 0
  #clockToS = 0
  #courier: Courier | null = null
  #status: SocketStatus = 'connecting'
  #marksBefore: MarkMessage[] = []
  #finishing = false
  #keptSamples = 0
  #keptFromS = 0
  #timer: ReturnType<typeof setInterval> | undefined
  #watching = false

  constructor(tell: (message: FromRecorder) => void, parts: StreamRecorderParts = {}) {
    const { openStore = openIdbStore, hold = holdStream, ...options } = parts
    this.#tell = tell
    this.#openStore = openStore
    this.#hold = hold
    this.#options = options
  }

  receive(message: ToRecorder) {
    switch (message.type) {
      case 'begin':
        void this.#guarded(this.#begin(message.recording, message.serverUrl))
        break
      case 'resume':
        void this.#guarded(this.#resume(message.stream, message.serverUrl))
        break
      case 'samples':
        this.#take(message.firstIndex, message.values, message.arrivedAtUs)
        break
      case 'mark':
        this.#mark(message)
        break
      case 'finish':
        this.#finish()
        break
      case 'retry':
        this.#courier?.retryNow()
        break
      case 'watch':
        this.#watching = true
        this.#analyser?.show()
        break
    }
  }

  /** Stops everything where it stands; what is kept stays kept. */
  close() {
    clearInterval(this.#timer)
    this.#courier?.close()
  }

  async #begin(recording: RecordingPlan, serverUrl: string) {
    const { rateHz } = recording
    this.#recording = recording
    this.#packer = new FramePacker(recording)
    this.#clock = new RunningClock({ nominalRateHz: rateHz, windowS: Infinity })
    this.#analyser = new LocalAnalyser(
      recording,
      (message) => this.#tell({ type: 'view', message }),
      this.#anchor,
    )
    if (this.#watching) this.#analyser.show()
    this.#timer = setInterval(() => this.#progress(), PROGRESS_EVERY_MS)
    if (!(await this.#hold(recording.stream))) {
      this.#fail('Another tab of this browser records this very stream.')
      return
    }
    await this.#send(recording, serverUrl, await this.#storeIfAny())
  }

  async #resume(stream: string, serverUrl: string) {
    if (!(await this.#hold(stream))) {
      this.#fail('Another tab of this browser records or sends this session already.')
      return
    }
    const store = await this.#openStore()
    const kept = await store.read(stream)
    if (!kept) {
      // Sent by another tab in the meantime.
      this.#tell({ type: 'finished' })
      return
    }
    const { recording } = kept.stream
    this.#recording = recording
    this.#keptSamples = kept.frames.reduce((sum, { count }) => sum + count, 0)
    this.#keptFromS = kept.stream.nextIndex / recording.rateHz
    this.#timer = setInterval(() => this.#progress(), PROGRESS_EVERY_MS)
    this.#finishing = true
    await this.#send(recording, serverUrl, store, kept)
  }

  async #storeIfAny(): Promise<OutboxStore | null> {
    try {
      return await this.#openStore()
    } catch {
      // Told by keptOnDevice: a private window or an old browser keeps nothing.
      return null
    }
  }

  async #send(recording: RecordingPlan, serverUrl: string, store: OutboxStore | null, kept?: KeptContent) {
    const courier = new Courier(
      recording,
      serverUrl,
      store,
      () => this.#packer?.drain() ?? [],
      {
        onStatus: (status) => (this.#status = status),
        onMark: (mark) => this.#analyser?.mark(mark),
        onFinished: () => this.#end({ type: 'finished' }),
        onRefused: (message, code) => this.#end({ type: 'refused', message, ...(code && { code }) }),
      },
      { ...this.#options, kept },
    )
    this.#courier = courier
    for (const mark of this.#marksBefore) courier.mark(mark)
    this.#marksBefore = []
    await courier.start()
    if (this.#finishing) courier.finish()
  }

  #take(firstIndex: number, values: readonly Float64Array[], arrivedAtUs: number) {
    if (!this.#packer || !this.#clock || this.#finishing) return
    const pieces = this.#packer.take(firstIndex, values, arrivedAtUs)
    for (const piece of pieces) this.#analyser?.push(piece.firstIndex, piece.values, arrivedAtUs)
    const last = pieces.at(-1)
    if (!last) return
    this.#clockToS = arrivedAtUs / 1e6
    this.#clockFromS ||= this.#clockToS
    this.#clock.add(last.firstIndex + last.count - 1, this.#clockToS)
    this.#courier?.wake()
  }

  #mark(message: Extract<ToRecorder, { type: 'mark' }>) {
    const { id, kind, atS, note } = message
    const mark: MarkMessage = { type: 'mark', id, kind, atS, ...(note !== undefined && { note }) }
    this.#analyser?.mark({ id, kind, atS, note: note ?? null })
    if (this.#courier) this.#courier.mark(mark)
    else this.#marksBefore.push(mark)
  }

  #finish() {
    if (this.#finishing) return
    this.#finishing = true
    this.#analyser?.finish()
    this.#courier?.finish()
    this.#progress()
  }

  #progress() {
    const { rateHz } = this.#recording!
    const waiting = this.#packer?.waitingSamples ?? 0
    const unacknowledged = this.#courier?.unacknowledgedSamples ?? this.#keptSamples
    const measured = this.#clockToS - this.#clockFromS >= MIN_MEASURED_S
    this.#tell({
      type: 'progress',
      progress: {
        status: this.#status,
        recordedS: this.#packer ? this.#packer.nextIndex / rateHz : this.#keptFromS,
        unacknowledgedS: (waiting + unacknowledged) / rateHz,
        keptOnDevice: this.#courier?.keptOnDevice ?? true,
        lostSamples: (this.#packer?.lostSamples ?? 0) + (this.#courier?.lostSamples ?? 0),
        driftPpm: measured ? (this.#clock?.fit()?.driftPpm ?? null) : null,
      },
    })
  }

  #end(message: FromRecorder) {
    this.#progress()
    this.close()
    this.#tell(message)
  }

  #fail(message: string) {
    this.close()
    this.#tell({ type: 'failed', message })
  }

  async #guarded(work: Promise<void>) {
    try {
      await work
    } catch (error) {
      this.#fail(error instanceof Error ? error.message : String(error))
    }
  }
}
