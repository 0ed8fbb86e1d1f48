import type { LayoutWrite, PacketLayout } from '#signal/packet/layout'
import type { DeviceRequest } from './bluetooth-api'
import type { LinkTarget } from './link'
import { BATTERY_SERVICE, DEVICE_INFORMATION_SERVICE } from './sensor-facts'

/** Where the packets of a layout come from. */
export function linkTarget({ service, characteristic, start, stop }: PacketLayout): LinkTarget {
  return { service, characteristic, start: writes(start), stop: writes(stop) }
}

/**
 * What the browser's list shows: sensors that advertise the service of the layout, or whose name begins as
 * the layout says; or every device in reach, since many sensors advertise no service.
 */
export function deviceRequest(layout: PacketLayout, everyDevice: boolean): DeviceRequest {
  const optionalServices = [layout.service, BATTERY_SERVICE, DEVICE_INFORMATION_SERVICE]
  if (everyDevice) return { acceptAllDevices: true, optionalServices }
  const namePrefix = layout.match?.namePrefix
  return {
    filters: [{ services: [layout.service] }, ...(namePrefix ? [{ namePrefix }] : [])],
    optionalServices,
  }
}

function writes(list: readonly LayoutWrite[] = []) {
  return list.map(({ characteristic, bytesHex }) => ({
    characteristic,
    bytes: Uint8Array.from(bytesHex.match(/../g) ?? [], (hex) => Number.parseInt(hex, 16)),
  }))
}
