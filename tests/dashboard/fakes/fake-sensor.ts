import type {
  BluetoothApi,
  DeviceRequest,
  GattCharacteristic,
  SensorDevice,
} from '../../../dashboard/sources/bluetooth/bluetooth-api.ts'

type Listener = () => void
/** What the next call of a step does: nothing said means it succeeds. */
type Script = 'hang' | Error

/** What a browser throws: an Error with a name. */
export function namedError(name: string, message: string): Error {
  return Object.assign(new Error(message), { name })
}

/** A characteristic that hands out the bytes the test sends. */
export class FakeCharacteristic implements GattCharacteristic {
  value: DataView | null = null
  readonly properties = { write: true }
  readonly written: number[][] = []
  #listeners = new Set<Listener>()
  readonly uuid: string
  readonly #steps: FakeSensor

  constructor(uuid: string, sensor: FakeSensor) {
    this.uuid = uuid
    this.#steps = sensor
  }

  startNotifications() {
    return this.#steps.step('subscribe')
  }

  async readValue(): Promise<DataView> {
    await this.#steps.step('read')
    const bytes = this.#steps.values.get(this.uuid)
    if (!bytes) throw namedError('NotFoundError', 'No Characteristics matching UUID')
    return new DataView(Uint8Array.from(bytes).buffer)
  }

  async writeValueWithResponse(bytes: Uint8Array) {
    await this.#steps.step('write')
    this.written.push([...bytes])
  }

  writeValueWithoutResponse(bytes: Uint8Array) {
    return this.writeValueWithResponse(bytes)
  }

  addEventListener(_type: string, listener: Listener) {
    this.#listeners.add(listener)
  }

  removeEventListener(_type: string, listener: Listener) {
    this.#listeners.delete(listener)
  }

  get listeners() {
    return [...this.#listeners]
  }

  notify(...bytes: number[]) {
    this.value = new DataView(Uint8Array.from(bytes).buffer)
    for (const listener of this.#listeners) listener()
  }
}

/** A sensor that does what the test says; steps succeed at once unless scripted. */
export class FakeSensor implements SensorDevice {
  readonly id: string
  readonly name = 'Harness 12'
  /** Every call in order. */
  readonly calls: string[] = []
  /** What can be read, by the UUID of its characteristic. */
  readonly values = new Map<string, number[]>()
  /** One per discovery: after a reconnect all objects of the API are new. */
  readonly characteristics: FakeCharacteristic[] = []
  readonly gatt: SensorDevice['gatt'] & { connected: boolean }
  readonly #scripts = new Map<string, Script[]>()
  readonly #hanging = new Map<string, (() => void)[]>()
  #listeners = new Set<Listener>()

  constructor(id = 'one') {
    this.id = id
    const gatt = {
      connected: false,
      connect: async () => {
        await this.step('connect')
        gatt.connected = true
      },
      disconnect: () => {
        this.calls.push('disconnect')
        gatt.connected = false
      },
      getPrimaryService: async () => {
        await this.step('discover')
        return {
          getCharacteristic: async (uuid: string) => {
            const characteristic = new FakeCharacteristic(uuid, this)
            this.characteristics.push(characteristic)
            return characteristic
          },
        }
      },
    }
    this.gatt = gatt
  }

  /** The next call of `step` hangs or fails; several in a row are taken in order. */
  script(step: string, ...what: Script[]) {
    this.#scripts.set(step, [...(this.#scripts.get(step) ?? []), ...what])
  }

  async step(step: string) {
    this.calls.push(step)
    const script = this.#scripts.get(step)?.shift()
    if (script === undefined) return
    if (script !== 'hang') throw script
    await new Promise<void>((resolve) => {
      this.#hanging.set(step, [...(this.#hanging.get(step) ?? []), resolve])
    })
  }

  /** What hung comes back after all. */
  release(step: string) {
    for (const resolve of this.#hanging.get(step) ?? []) resolve()
    this.#hanging.delete(step)
  }

  addEventListener(_type: string, listener: Listener) {
    this.#listeners.add(listener)
  }

  removeEventListener(_type: string, listener: Listener) {
    this.#listeners.delete(listener)
  }

  get listeners() {
    return [...this.#listeners]
  }

  /** The radio loses the link. */
  drop() {
    this.gatt.connected = false
    for (const listener of this.#listeners) listener()
  }

  /** The characteristic `uuid` of the newest link. */
  newestOf(uuid: string) {
    return this.characteristics.findLast((one) => one.uuid === uuid)!
  }

  count(call: string) {
    return this.calls.filter((one) => one === call).length
  }
}

/** The browser's list, answered by the test. */
export class FakeBluetooth implements BluetoothApi {
  readonly requests: DeviceRequest[] = []
  available = true
  #answer: { resolve: (device: SensorDevice) => void; reject: (error: Error) => void } | null = null

  requestDevice(request: DeviceRequest) {
    this.requests.push(request)
    return new Promise<SensorDevice>((resolve, reject) => (this.#answer = { resolve, reject }))
  }

  async getAvailability() {
    return this.available
  }

  choose(device: SensorDevice) {
    this.#answer!.resolve(device)
  }

  refuse(name: string, message = name) {
    this.#answer!.reject(namedError(name, message))
  }
}
