/**
 * The part of the Web Bluetooth API that is used here (Web Bluetooth Community Group report), written
 * down because TypeScript's DOM library leaves it out, and so that a test can play the device.
 */
export interface BluetoothApi {
  requestDevice(request: DeviceRequest): Promise<SensorDevice>
  getAvailability?(): Promise<boolean>
}

export interface DeviceRequest {
  readonly filters?: readonly { readonly services?: readonly string[]; readonly namePrefix?: string }[]
  readonly acceptAllDevices?: boolean
  readonly optionalServices?: readonly string[]
}

export interface SensorDevice {
  readonly id: string
  readonly name?: string
  readonly gatt?: GattServer
  addEventListener(type: 'gattserverdisconnected', listener: () => void): void
  removeEventListener(type: 'gattserverdisconnected', listener: () => void): void
}

export interface GattServer {
  readonly connected: boolean
  connect(): Promise<unknown>
  disconnect(): void
  getPrimaryService(uuid: string): Promise<GattService>
}

export interface GattService {
  getCharacteristic(uuid: string): Promise<GattCharacteristic>
}

export interface GattCharacteristic {
  readonly value?: DataView | null
  readonly properties: { readonly write: boolean }
  startNotifications(): Promise<unknown>
  readValue(): Promise<DataView>
  writeValueWithResponse(bytes: Uint8Array<ArrayBuffer>): Promise<void>
  writeValueWithoutResponse(bytes: Uint8Array<ArrayBuffer>): Promise<void>
  addEventListener(type: 'characteristicvaluechanged', listener: () => void): void
  removeEventListener(type: 'characteristicvaluechanged', listener: () => void): void
}

/** This browser's Bluetooth, or null where there is none (or the page is not secure). */
export function browserBluetooth(): BluetoothApi | null {
  return (navigator as Navigator & { bluetooth?: BluetoothApi }).bluetooth ?? null
}
