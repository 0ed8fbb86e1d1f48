import type { DecodedPacket } from './decode.ts'
import type { CountingType, FieldType } from './field-type.ts'
import { integerRange, moduloOf } from './field-type.ts'
import type { DeviceTimeField } from './layout.ts'

/** The time a sensor states, unwrapped; goes on by the clock of the arrivals where the sensor began anew. */
export class DeviceClock {
  private readonly field: DeviceTimeField
  /** In counts; null for a time that does not wrap. */
  private readonly modulo: number | null
  private last: { counts: number; timeS: number; arrivedMs: number } | null = null

  constructor(field: DeviceTimeField) {
    this.field = field
    this.modulo = field.modulo ?? (isCounting(field.type) ? moduloOf(field.type) : null)
  }

  /**
   * Time of the packet's last sample, s, ascending; undefined when the packet holds no usable time.
   *
   * @param rateHz to get from the first sample to the last
   * @param restarted the sensor began anew: its clock may have, too
   */
  lastSampleTimeS(
    { deviceTime, count }: DecodedPacket,
    arrivedMs: number,
    rateHz: number,
    restarted: boolean,
  ): number | undefined {
    if (deviceTime === null || (this.modulo !== null && deviceTime >= this.modulo)) return undefined
    const statedS = this.unwrap(deviceTime, arrivedMs, restarted)
    return this.field.refersTo === 'first' ? statedS + (count - 1) / rateHz : statedS
  }

  private unwrap(counts: number, arrivedMs: number, restarted: boolean): number {
    const { last, modulo } = this
    const { unitS } = this.field
    let timeS = counts * unitS
    if (last !== null) {
      const elapsedS = Math.max(0, arrivedMs - last.arrivedMs) / 1000
      let stepS = (counts - last.counts) * unitS
      if (modulo !== null) {
        // Of all steps that end at these counts, the one nearest to what the arrivals say.
        const roundS = modulo * unitS
        stepS += Math.round((elapsedS - stepS) / roundS) * roundS
      }
      timeS = last.timeS + (restarted || stepS < 0 ? elapsedS : stepS)
    }
    this.last = { counts, timeS, arrivedMs }
    return timeS
  }
}

function isCounting(type: FieldType): type is CountingType {
  return integerRange(type) !== null
}
