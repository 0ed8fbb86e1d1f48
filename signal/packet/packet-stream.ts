import { RunningClock } from '../clock/running-clock.ts'
import { isAmbiguous } from '../clock/unwrap.ts'
import type { DecodedPacket } from './decode.ts'
import { DeviceClock } from './device-clock.ts'
import { moduloOf } from './field-type.ts'
import type { PacketLayout } from './layout.ts'

/** Samples that follow one another without a gap, at their place in the recording. */
export interface PlacedSamples {
  /** Counts the sensor's samples from 0 at the first packet; ascends, and jumps over what was lost. */
  readonly firstIndex: number
  /** One array of equal length per channel, SI, as `DecodedPacket.values`. */
  readonly values: readonly Float64Array[]
  /** Of the last sample here, on the sensor's own clock, s, unwrapped. */
  readonly deviceTimeS?: number
  /** Samples missing just before these; what precedes the first packet is not counted. */
  readonly lostBefore: number
  /** The sensor began anew, or was silent too long for its counter: placed by the clock of the arrivals. */
  readonly reckoned: boolean
}

/** Packets behind their place must run on for this long, ms, to count as a counter that began anew. */
const RESTART_AFTER_MS = 500
/** Samples cannot come before they were taken; this much is granted to the estimate of the rate. */
const EARLY_SHARE = 0.25
const EARLY_S = 1

/**
 * Places the packets of one sensor on one running index. The counter decides: a step forward is loss
 * and becomes a jump, a packet at or behind its place is a repeat or late and is dropped. Three cases the
 * counter cannot decide are reckoned from the clock of the arrivals and the rate measured so far
 * (lower hull, `RunningClock`), and marked so:
 *
 * - a counter that began anew: after `linkRestored`, when it does not stand where the clock expects it; or
 *   packets behind their place that follow one another for half a second; or a step so far ahead that the
 *   samples would not have been taken yet;
 * - silence in which half the modulo or more may have passed (packets that only waited are then placed too
 *   late by as much: a counter should take minutes to wrap);
 * - nothing: without a counter indices run on, and `lossUnknown` says that a gap would not be seen.
 *
 * Times are those of a clock that does not stop (`performance.now()`).
 */
export class PacketStream {
  /** The layout has no counter: lost packets leave no trace. */
  readonly lossUnknown: boolean
  /** Samples that never came, and packets dropped as repeated or late. */
  lostSamples = 0
  droppedPackets = 0

  private readonly counter: NonNullable<PacketLayout['header']>['counter']
  /** Where the counter begins again, in its own counts. */
  private readonly modulo: number
  private readonly device: DeviceClock | null
  private clock: RunningClock
  private rate: number
  /** Index of the sample that comes next if nothing is lost. */
  private nextIndex = 0
  /** What the counter says then. */
  private nextCounter: number | null = null
  /** Where the samples handed out end; null before the first. */
  private placedEnd: number | null = null
  private lastArrivedMs = 0
  private restored = false
  /** Since when packets have run on behind their place, and what the counter of the next one would be. */
  private behind: { sinceMs: number; nextCounter: number } | null = null

  /** @param layout as `readLayout` returns it */
  constructor(layout: PacketLayout) {
    this.counter = layout.header?.counter
    this.lossUnknown = this.counter === undefined
    this.modulo = this.counter ? (this.counter.modulo ?? moduloOf(this.counter.type)) : 0
    const time = layout.header?.deviceTime
    this.device = time ? new DeviceClock(time) : null
    this.rate = layout.nominalRateHz
    this.clock = new RunningClock({ nominalRateHz: this.rate, windowS: Infinity })
  }

  /** Samples per second as measured from the arrivals; the nominal rate in the first seconds. */
  get rateHz(): number {
    return this.rate
  }

  /** Call when the connection was lost and is back: the sensor may have begun anew meanwhile. */
  linkRestored(): void {
    this.restored = this.nextCounter !== null || this.lossUnknown
  }

  /**
   * Places a packet; packets in the order of their arrival.
   *
   * @param arrivedMs when it came
   * @returns nothing for a repeated or late packet; several pieces when samples inside were no readings
   */
  take(decoded: DecodedPacket, arrivedMs: number): PlacedSamples[] {
    const { count } = decoded
    const placed = this.place(decoded, arrivedMs)
    if (placed === null) {
      this.droppedPackets++
      return []
    }
    const { firstIndex, reckoned } = placed
    this.nextIndex = firstIndex + count
    this.lastArrivedMs = arrivedMs
    this.behind = null
    this.restored = false
    if (decoded.counter !== null) this.nextCounter = this.counterAfter(decoded)
    this.measure(this.nextIndex - 1, arrivedMs, reckoned)
    const lastTimeS = this.device?.lastSampleTimeS(decoded, arrivedMs, this.rate, reckoned)
    return this.pieces(decoded, firstIndex, reckoned, lastTimeS)
  }

  /** The readings of a packet in runs without a gap. */
  private pieces(
    { values, count, lost }: DecodedPacket,
    index: number,
    reckoned: boolean,
    lastTimeS: number | undefined,
  ): PlacedSamples[] {
    const placed: PlacedSamples[] = []
    for (let k = 0, from = 0; k <= lost.length; k++) {
      const end = k < lost.length ? lost[k] : count
      if (end > from) {
        const firstIndex = index + from
        const lostBefore = this.placedEnd === null ? 0 : firstIndex - this.placedEnd
        this.placedEnd = index + end
        this.lostSamples += lostBefore
        placed.push({
          firstIndex,
          values: end - from === count ? values : values.map((channel) => channel.slice(from, end)),
          ...(lastTimeS === undefined ? {} : { deviceTimeS: lastTimeS - (count - end) / this.rate }),
          lostBefore,
          reckoned: reckoned && placed.length === 0,
        })
      }
      from = end + 1
    }
    return placed
  }

  /** Where the packet belongs; null when it was there before. */
  private place(decoded: DecodedPacket, arrivedMs: number): { firstIndex: number; reckoned: boolean } | null {
    const { counter, count } = decoded
    const { nextIndex, nextCounter, modulo } = this
    if (counter === null) {
      // Contiguous as long as the link held; over a new connection the clock at least tells how long it took.
      if (!this.restored) return { firstIndex: nextIndex, reckoned: false }
      return { firstIndex: this.reckon(count, arrivedMs), reckoned: true }
    }
    if (nextCounter === null) return { firstIndex: 0, reckoned: false }
    const first = this.counterOfFirst(counter, count)
    const perCount = this.counter!.counts === 'packets' ? count : 1
    const silenceS = (arrivedMs - this.lastArrivedMs) / 1000
    if (isAmbiguous(silenceS, this.rate / perCount, modulo)) {
      return { firstIndex: this.reckon(count, arrivedMs), reckoned: true }
    }
    const step = (((first - nextCounter) % modulo) + modulo) % modulo
    const isAhead = step < modulo / 2
    const firstIndex = nextIndex + step * perCount
    if (isAhead && this.isPossible(firstIndex + count - 1, arrivedMs)) {
      if (!this.restored || this.isExpected(firstIndex + count - 1, arrivedMs)) {
        return { firstIndex, reckoned: false }
      }
    }
    if (this.restored || isAhead || this.hasRunOnBehind(decoded, first, arrivedMs)) {
      return { firstIndex: this.reckon(count, arrivedMs), reckoned: true }
    }
    return null
  }

  private counterOfFirst(counter: number, count: number): number {
    if (this.counter!.counts === 'packets' || this.counter!.refersTo !== 'last') return counter
    return (((counter - count + 1) % this.modulo) + this.modulo) % this.modulo
  }

  private counterAfter({ counter, count }: DecodedPacket): number {
    const first = this.counterOfFirst(counter!, count)
    return (first + (this.counter!.counts === 'packets' ? 1 : count)) % this.modulo
  }

  /** True unless the sample would have been taken well after it came. */
  private isPossible(lastIndex: number, arrivedMs: number): boolean {
    const silenceS = Math.max(0, arrivedMs - this.lastArrivedMs) / 1000
    const dueIndex = Math.max(this.nextIndex, this.dueIndex(arrivedMs))
    return lastIndex <= dueIndex + this.rate * (EARLY_S + EARLY_SHARE * silenceS)
  }

  /** True when the counter stands about where the clock of the arrivals expects it. */
  private isExpected(lastIndex: number, arrivedMs: number): boolean {
    const silenceS = Math.max(0, arrivedMs - this.lastArrivedMs) / 1000
    return lastIndex >= this.dueIndex(arrivedMs) - this.rate * (EARLY_S + EARLY_SHARE * silenceS)
  }

  /** The sample that a packet arriving now with the least delay would end with. */
  private dueIndex(arrivedMs: number): number {
    const fit = this.clock.fit()
    if (fit === null) return this.nextIndex
    return Math.round((arrivedMs / 1000 - fit.interceptS) / fit.periodS)
  }

  private hasRunOnBehind(decoded: DecodedPacket, first: number, arrivedMs: number): boolean {
    const runsOn = this.behind !== null && this.behind.nextCounter === first
    const sinceMs = runsOn ? this.behind!.sinceMs : arrivedMs
    this.behind = { sinceMs, nextCounter: this.counterAfter(decoded) }
    return arrivedMs - sinceMs >= RESTART_AFTER_MS
  }

  private reckon(count: number, arrivedMs: number): number {
    return Math.max(this.nextIndex, this.dueIndex(arrivedMs) - count + 1)
  }

  private measure(lastIndex: number, arrivedMs: number, reckoned: boolean): void {
    // The reckoned place may be off by the delay of one packet: the line begins anew, the rate stays.
    if (reckoned) this.clock = new RunningClock({ nominalRateHz: this.rate, windowS: Infinity })
    this.clock.add(lastIndex, arrivedMs / 1000)
    this.rate = this.clock.fit()!.rateHz
  }
}
