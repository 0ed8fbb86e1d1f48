import type { GattCharacteristic, SensorDevice } from './bluetooth-api'
import { GattClosed, GattQueue } from './gatt-queue'
import { linkFault } from './link-fault'
import type { LinkFault, LinkFaultKind } from './link-fault'
import { SilenceWatch } from './silence-watch'
import type { Timers } from './timers'

export const CONNECT_LIMIT_MS = 15_000
export const DISCOVERY_LIMIT_MS = 10_000
export const SUBSCRIBE_LIMIT_MS = 5_000
export const WRITE_LIMIT_MS = 5_000

/** Where on the sensor the packets come from, and what sets them going. */
export interface LinkTarget {
  readonly service: string
  readonly characteristic: string
  /** Written after subscribing, and before leaving. */
  readonly start: readonly GattWrite[]
  readonly stop: readonly GattWrite[]
}

export interface GattWrite {
  readonly characteristic: string
  readonly bytes: Uint8Array<ArrayBuffer>
}

export interface LinkHandlers {
  onDiscovering(): void
  onPacket(bytes: DataView, arrivedAtMs: number): void
  onStalled(): void
  /** The link is over; nothing of it is heard after this. */
  onEnded(fault: LinkFault): void
  /** The one exception: the browser connected after the link was given up. Somebody must hang up. */
  onConnectedLate(): void
}

/**
 * One connection to the sensor, from connect to drop. Every reconnect is another `Link`, and one that
 * was closed is silent for good: an event or a promise of the browser that comes late does nothing.
 */
export class Link {
  readonly device: SensorDevice
  readonly queue: GattQueue
  readonly #target: LinkTarget
  readonly #handlers: LinkHandlers
  readonly #timers: Timers
  readonly #watch: SilenceWatch
  #open = true
  /** Held for as long as the link lasts: old browsers forgot the listener with the object. */
  #characteristic: GattCharacteristic | null = null

  constructor(device: SensorDevice, target: LinkTarget, handlers: LinkHandlers, timers: Timers) {
    this.device = device
    this.queue = new GattQueue(timers)
    this.#target = target
    this.#handlers = handlers
    this.#timers = timers
    this.#watch = new SilenceWatch(timers, {
      onStalled: () => handlers.onStalled(),
      onDropped: () => this.#end(linkFault('silent')),
    })
  }

  open() {
    void this.#establish()
  }

  /** Ends the link without telling anybody. */
  close() {
    if (!this.#open) return
    this.#open = false
    this.#watch.stop()
    this.queue.close()
    this.device.removeEventListener('gattserverdisconnected', this.#onDisconnected)
    this.#characteristic?.removeEventListener('characteristicvaluechanged', this.#onValue)
    this.#characteristic = null
    this.device.gatt?.disconnect()
  }

  /** Ends the link after telling the sensor to stop, if it wants to be told. */
  async leave() {
    if (this.#open && this.#characteristic && this.#target.stop.length > 0) {
      this.#watch.stop()
      this.#characteristic.removeEventListener('characteristicvaluechanged', this.#onValue)
      // A sensor that cannot be told any more stops by itself when the link is gone.
      await this.#write(this.#target.stop).catch(() => {})
    }
    this.close()
  }

  async #establish() {
    let step: LinkFaultKind = 'connect'
    try {
      await this.queue.run('connecting', CONNECT_LIMIT_MS, () => this.#connect())
      this.device.addEventListener('gattserverdisconnected', this.#onDisconnected)
      step = 'discover'
      this.#handlers.onDiscovering()
      const characteristic = await this.queue.run('looking for the service', DISCOVERY_LIMIT_MS, () =>
        this.#find(this.#target.characteristic),
      )
      step = 'subscribe'
      this.#characteristic = characteristic
      characteristic.addEventListener('characteristicvaluechanged', this.#onValue)
      await this.queue.run('subscribing', SUBSCRIBE_LIMIT_MS, () => characteristic.startNotifications())
      this.#watch.start()
      step = 'start-write'
      await this.#write(this.#target.start)
    } catch (error) {
      if (!(error instanceof GattClosed)) this.#end(linkFault(step, error))
    }
  }

  async #connect() {
    const { gatt } = this.device
    if (!gatt) throw new Error('the chosen device offers no GATT services')
    await gatt.connect()
    if (!this.#open) this.#handlers.onConnectedLate()
  }

  async #find(characteristic: string): Promise<GattCharacteristic> {
    const service = await this.device.gatt!.getPrimaryService(this.#target.service)
    return service.getCharacteristic(characteristic)
  }

  async #write(writes: readonly GattWrite[]) {
    for (const { characteristic, bytes } of writes) {
      await this.queue.run('writing', WRITE_LIMIT_MS, async () => {
        const to = await this.#find(characteristic)
        await (to.properties.write ? to.writeValueWithResponse(bytes) : to.writeValueWithoutResponse(bytes))
      })
    }
  }

  readonly #onValue = () => {
    const value = this.#characteristic?.value
    if (!this.#open || !value) return
    const nowMs = this.#timers.nowMs()
    this.#watch.heard(nowMs)
    // The view is certain only until this function returns.
    const bytes = value.buffer.slice(value.byteOffset, value.byteOffset + value.byteLength)
    this.#handlers.onPacket(new DataView(bytes), nowMs)
  }

  /** A new link of the same device hears the end of the one before; then the device is connected. */
  readonly #onDisconnected = () => {
    if (!this.device.gatt?.connected) this.#end(linkFault('lost'))
  }

  #end(fault: LinkFault) {
    if (!this.#open) return
    this.close()
    this.#handlers.onEnded(fault)
  }
}
