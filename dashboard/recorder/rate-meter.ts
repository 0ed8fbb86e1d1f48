import { RunningClock } from '#signal/clock/running-clock'
import type { SourcePacket } from '../sources/source'

/** Before this much, s, a measured rate says less than the stated one. */
export const MIN_MEASURED_S = 5
/** A measured rate within this share of the stated one is the stated one. */
const SAME_RATE_SHARE = 0.005

/**
 * The rate a sensor really keeps, by the lower-hull clock over the newest 30 s: of the sensor's own
 * time stamps when it tells them, else of the arrivals.
 */
export class RateMeter {
  readonly #nominalRateHz: number
  readonly #arrivals: RunningClock
  #device: RunningClock | null = null
  #deviceFromS = 0
  #firstArrivedS: number | null = null
  #lastArrivedS = 0
  #lastDeviceS = 0
  #lastIndex = -1

  constructor(nominalRateHz: number) {
    this.#nominalRateHz = nominalRateHz
    this.#arrivals = new RunningClock({ nominalRateHz })
  }

  add(packet: SourcePacket): void {
    const index = packet.firstIndex + packet.values[0].length - 1
    if (index <= this.#lastIndex) return
    this.#lastIndex = index
    this.#lastArrivedS = packet.arrivedAtMs / 1000
    this.#firstArrivedS ??= this.#lastArrivedS
    this.#arrivals.add(index, this.#lastArrivedS)
    if (packet.deviceTimeS === undefined) return
    // A sensor that began anew counts its time from elsewhere.
    if (this.#device === null || packet.reckoned || packet.deviceTimeS < this.#lastDeviceS) {
      this.#device = new RunningClock({ nominalRateHz: this.#nominalRateHz })
      this.#deviceFromS = packet.deviceTimeS
    }
    this.#lastDeviceS = packet.deviceTimeS
    this.#device.add(index, packet.deviceTimeS)
  }

  /** Hz; null until 5 s have been watched. */
  get measuredRateHz(): number | null {
    if (this.#device && this.#lastDeviceS - this.#deviceFromS >= MIN_MEASURED_S) {
      return this.#device.fit()?.rateHz ?? null
    }
    const watchedS = this.#firstArrivedS === null ? 0 : this.#lastArrivedS - this.#firstArrivedS
    return watchedS >= MIN_MEASURED_S ? (this.#arrivals.fit()?.rateHz ?? null) : null
  }

  /** When sample `index` came or would have come without delay, ms on the clock of the arrivals. */
  arrivalMsOf(index: number): number {
    const fit = this.#arrivals.fit()
    if (!fit) throw new RangeError('RateMeter.arrivalMsOf requires a packet first')
    return (fit.interceptS + index * fit.periodS) * 1000
  }
}

/** The rate of a stream, Hz: as measured (2 decimals) when that is known and differs by more than 0.5 %. */
export function streamRateHz(nominalRateHz: number, measuredRateHz: number | null): number {
  if (measuredRateHz === null) return nominalRateHz
  const differs = Math.abs(measuredRateHz / nominalRateHz - 1) > SAME_RATE_SHARE
  return differs ? Math.round(measuredRateHz * 100) / 100 : nominalRateHz
}
