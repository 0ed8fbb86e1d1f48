import type { Mark } from '#signal/trace/trace'
import type { SensorSource, SourceInfo, SourcePacket, SourceState } from '../sources/source'
import { marksInForce } from './marks-in-force'
import { RateMeter } from './rate-meter'
import { RecentLoss } from './recent-loss'
import { StillnessMeter, UNKNOWN_STILLNESS } from './stillness'
import type { Stillness } from './stillness'

/** How often the numbers shown are renewed at most, ms. */
const SHOW_EVERY_MS = 200

/** Called in order; `info` is always known by then. */
export interface FeedListener {
  onPacket(packet: SourcePacket): void
  /** A mark the source brings itself, seconds since its sample 0 at the nominal rate. */
  onMark?(mark: Mark): void
  /** The source has nothing more to give. */
  onEnd?(): void
}

/**
 * One sensor being watched, before and during a recording: how it is, how fast it really is, how
 * still it stands. Keeps nothing but small rings; whoever wants the samples subscribes.
 */
export class Feed {
  readonly source: SensorSource
  state = $state.raw<SourceState>({ phase: 'connecting', words: 'Connecting …' })
  info = $state.raw<SourceInfo | null>(null)
  /** Hz, from the clock of arrivals or of the sensor; null until 5 s have been watched. */
  measuredRateHz = $state<number | null>(null)
  /** Share of the samples of the newest 30 s that never arrived, 0..1. */
  lossShare = $state(0)
  /** Mean |a| of the newest second, m/s²: near 9.81 when all is well. */
  accelerationMs2 = $state<number | null>(null)
  stillness = $state.raw<Stillness>(UNKNOWN_STILLNESS)
  /** Percent, when the sensor tells. */
  battery = $state<number | null>(null)

  #listeners: readonly FeedListener[] = []
  #rate: RateMeter | null = null
  #still: StillnessMeter | null = null
  #loss = new RecentLoss()
  #marks: Mark[] = []
  #nextIndex = 0
  #shownAtMs = -Infinity
  #stopped = false

  constructor(source: SensorSource) {
    this.source = source
  }

  /** Begins to watch; call it inside the tap that chose the source. */
  start() {
    this.source.start({
      onInfo: (info) => this.#describe(info),
      onPacket: (packet) => this.#take(packet),
      onState: (state) => {
        if (!this.#stopped) this.state = state
      },
      onMark: (mark) => {
        this.#marks.push(mark)
        for (const listener of this.#listeners) listener.onMark?.(mark)
      },
      onEnd: () => {
        this.state = {
          phase: 'ended',
          words: this.state.phase === 'failed' ? this.state.words : 'The sensor has ended.',
        }
        for (const listener of this.#listeners) listener.onEnd?.()
      },
    })
  }

  stop() {
    if (this.#stopped) return
    this.#stopped = true
    this.source.stop()
    this.#listeners = []
    this.state = { phase: 'ended', words: 'The sensor is stopped.' }
  }

  /** Asks the person for the sensor again, the quickest way back; call it inside a tap. */
  reconnect() {
    this.source.reconnect?.()
  }

  /** Hands over every packet from now on; call what it returns to end that. */
  subscribe(listener: FeedListener): () => void {
    this.#listeners = [...this.#listeners, listener]
    return () => (this.#listeners = this.#listeners.filter((other) => other !== listener))
  }

  /** Marks of the source that hold at this moment: hands on or off, a quiet stand under way. */
  marksInForce(): Mark[] {
    return marksInForce(this.#marks)
  }

  /** When sample `index` was taken (less the least delay of the link), ms on `performance.now()`. */
  arrivalMsOf(index: number): number {
    if (!this.#rate) throw new RangeError('Feed.arrivalMsOf requires a packet first')
    return this.#rate.arrivalMsOf(index)
  }

  #describe(info: SourceInfo) {
    const before = this.info
    this.info = info
    this.battery = info.description?.batteryPercent ?? null
    if (before?.nominalRateHz === info.nominalRateHz) return
    this.#rate = new RateMeter(info.nominalRateHz)
    this.#still = new StillnessMeter(info.nominalRateHz)
    this.#loss = new RecentLoss()
  }

  #take(packet: SourcePacket) {
    if (this.#stopped || packet.values[0].length === 0) return
    if (!this.#rate || !this.#still) throw new Error('A source tells what it is (onInfo) before its packets.')
    this.#rate.add(packet)
    this.#loss.add(packet)
    const { firstIndex, values } = packet
    const [x, y, z] = values
    for (let i = Math.max(0, this.#nextIndex - firstIndex); i < x.length; i++) {
      this.#still.push(firstIndex + i, x[i], y[i], z[i])
    }
    this.#nextIndex = Math.max(this.#nextIndex, firstIndex + x.length)
    for (const listener of this.#listeners) listener.onPacket(packet)
    if (packet.arrivedAtMs - this.#shownAtMs < SHOW_EVERY_MS) return
    this.#shownAtMs = packet.arrivedAtMs
    this.measuredRateHz = this.#rate.measuredRateHz
    this.lossShare = this.#loss.share
    this.accelerationMs2 = this.#still.meanAccelerationMs2()
    this.stillness = this.#still.read()
  }
}
