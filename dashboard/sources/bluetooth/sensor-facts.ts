import type { GattServer } from './bluetooth-api'
import type { GattQueue } from './gatt-queue'

/** Assigned Numbers, Bluetooth SIG: Battery Service with Battery Level, Device Information with its strings. */
const BASE = '-0000-1000-8000-00805f9b34fb'
export const BATTERY_SERVICE = `0000180f${BASE}`
const BATTERY_LEVEL = `00002a19${BASE}`
export const DEVICE_INFORMATION_SERVICE = `0000180a${BASE}`
const MODEL = `00002a24${BASE}`
const FIRMWARE = `00002a26${BASE}`
const READ_LIMIT_MS = 3_000

/** What the sensor says of itself, beside its measurements; most say only part of it. */
export interface SensorFacts {
  readonly batteryPercent?: number
  readonly model?: string
  readonly firmware?: string
}

/**
 * Reads the standard services through the queue of the link. A sensor without them, or one that does not
 * answer, leaves the fact out: nothing here may cost a stream that runs.
 */
export async function readSensorFacts(gatt: GattServer, queue: GattQueue): Promise<SensorFacts> {
  const read = async (service: string, characteristic: string): Promise<DataView | null> => {
    try {
      return await queue.run('reading', READ_LIMIT_MS, async () => {
        const found = await gatt.getPrimaryService(service)
        return (await found.getCharacteristic(characteristic)).readValue()
      })
    } catch {
      return null // it does not say
    }
  }
  const battery = await read(BATTERY_SERVICE, BATTERY_LEVEL)
  const percent = battery && battery.byteLength > 0 ? battery.getUint8(0) : undefined
  const model = textOf(await read(DEVICE_INFORMATION_SERVICE, MODEL))
  const firmware = textOf(await read(DEVICE_INFORMATION_SERVICE, FIRMWARE))
  return {
    // Above 100 is reserved.
    ...(percent !== undefined && percent <= 100 && { batteryPercent: percent }),
    ...(model !== '' && { model }),
    ...(firmware !== '' && { firmware }),
  }
}

/** UTF-8, sometimes with a zero at the end. */
function textOf(bytes: DataView | null): string {
  if (!bytes) return ''
  const text = new TextDecoder().decode(bytes)
  const end = text.indexOf('\0')
  return (end < 0 ? text : text.slice(0, end)).trim()
}
