import type { BluetoothApi, DeviceRequest, SensorDevice } from './bluetooth-api'
import { Link } from './link'
import type { LinkTarget } from './link'
import { requestFault } from './link-fault'
import type { LinkFault } from './link-fault'
import { sensorReconnectDelayMs } from './reconnect-delay'
import { STALLED_AFTER_MS } from './silence-watch'
import type { Timers } from './timers'

/** After so long without packets a person is asked to help: the browser's list is the quickest way back. */
export const NEEDS_TAP_AFTER_MS = 20_000

export type ConnectionPhase =
  | 'idle'
  /** The browser's list of devices is open. */
  | 'choosing'
  | 'connecting'
  | 'discovering'
  | 'streaming'
  | 'stalled'
  | 'reconnecting'
  /** A person should tap; attempts go on behind, bounded in time, when there is a sensor to try. */
  | 'needs-tap'
  | 'closed'

export interface ConnectionHandlers {
  onPhase(phase: ConnectionPhase, fault: LinkFault | null): void
  /** Called for every link before its first packet: the sensor may have begun anew. */
  onLink(link: Link): void
  onPacket(bytes: DataView, arrivedAtMs: number): void
}

export interface ConnectionParts {
  readonly bluetooth: BluetoothApi
  readonly timers: Timers
  readonly random: () => number
}

/**
 * Keeps one sensor streaming: idle → choosing → connecting → discovering → streaming → stalled →
 * reconnecting → needs-tap. A lost or silent link is replaced by a new one after 0, 1, 2, 4, 8, 8 … s.
 * An outage lasts from the last packet to the next one; a connection alone does not end it.
 */
export class SensorConnection {
  readonly #target: LinkTarget
  readonly #handlers: ConnectionHandlers
  readonly #parts: ConnectionParts
  #phase: ConnectionPhase = 'idle'
  #device: SensorDevice | null = null
  #link: Link | null = null
  /** The link whose packets are coming. */
  #heard: Link | null = null
  /** Counts the lists that were opened, so that a late answer of an earlier one does nothing. */
  #choice = 0
  #attempt = 0
  #streamed = false
  #outage = false
  #tapNeeded = false
  #fault: LinkFault | null = null
  #shownFault: LinkFault | null = null
  #cancelAttempt: () => void = () => {}
  #cancelTap: () => void = () => {}

  constructor(target: LinkTarget, handlers: ConnectionHandlers, parts: ConnectionParts) {
    this.#target = target
    this.#handlers = handlers
    this.#parts = parts
  }

  /** The sensor last chosen. */
  get device(): SensorDevice | null {
    return this.#device
  }

  get phase(): ConnectionPhase {
    return this.#phase
  }

  /**
   * Opens the browser's list; must run inside a tap. What was being tried is given up first, because a
   * connection under way can keep the list from finding the sensor. Does nothing while a list is open.
   */
  choose(request: DeviceRequest) {
    if (this.#phase === 'choosing' || this.#phase === 'closed') return
    this.#giveUp()
    this.#tapNeeded = false
    this.#fault = null
    this.#show('choosing')
    const choice = ++this.#choice
    this.#parts.bluetooth.requestDevice(request).then(
      (device) => choice === this.#choice && this.#chosen(device),
      (error: unknown) => choice === this.#choice && this.#notChosen(error),
    )
  }

  /** Ends for good; the sensor is told to stop if its layout says how. */
  async close() {
    if (this.#phase === 'closed') return
    this.#choice++
    this.#cancelAttempt()
    this.#cancelTap()
    const link = this.#link
    this.#link = null
    this.#show('closed')
    await link?.leave()
  }

  #chosen(device: SensorDevice) {
    if (device.id !== this.#device?.id) this.#streamed = false
    this.#device = device
    this.#attempt = 0
    this.#outage = false
    this.#beginOutage(0)
    this.#connect()
  }

  #notChosen(error: unknown) {
    const fault = (this.#fault = requestFault(error))
    this.#tapNeeded = true
    this.#show('needs-tap')
    if (this.#device) {
      this.#attempt = 0
      this.#tryLater()
    }
    if (fault.kind === 'not-chosen') this.#askForAdapter(fault)
  }

  /** The list was empty perhaps because Bluetooth is off: the browser tells, but only when asked. */
  #askForAdapter(fault: LinkFault) {
    const choice = this.#choice
    const asked = this.#parts.bluetooth.getAvailability?.() ?? Promise.resolve(true)
    asked.then(
      (available) => {
        if (available || choice !== this.#choice || this.#phase !== 'needs-tap') return
        this.#fault = { ...fault, kind: 'no-adapter' }
        this.#show('needs-tap')
      },
      () => {}, // no answer: the words of a closed list stay
    )
  }

  #connect() {
    const device = this.#device!
    this.#show(this.#streamed ? 'reconnecting' : 'connecting')
    const link = new Link(
      device,
      this.#target,
      {
        onDiscovering: () => this.#show(this.#streamed ? 'reconnecting' : 'discovering'),
        onPacket: (bytes, arrivedAtMs) => {
          if (this.#outage) this.#endOutage()
          if (link !== this.#heard) this.#handlers.onLink((this.#heard = link))
          this.#handlers.onPacket(bytes, arrivedAtMs)
        },
        onStalled: () => {
          if (this.#streamed && link !== this.#heard) return // still part of the outage before
          this.#beginOutage(STALLED_AFTER_MS)
          this.#show('stalled')
        },
        onEnded: (fault) => this.#ended(fault),
        onConnectedLate: () => {
          if (this.#link?.device !== device) device.gatt?.disconnect()
        },
      },
      this.#parts.timers,
    )
    this.#link = link
    link.open()
  }

  #ended(fault: LinkFault) {
    this.#link = null
    this.#fault = fault
    this.#beginOutage(0)
    // Another try finds no other services: this is the wrong sensor, or the wrong layout.
    const hopeless = fault.kind === 'not-there' && !this.#streamed
    if (hopeless) this.#tapNeeded = true
    this.#show('reconnecting')
    if (!hopeless) this.#tryLater()
  }

  #tryLater() {
    const delayMs = sensorReconnectDelayMs(this.#attempt++, this.#parts.random)
    this.#cancelAttempt = this.#parts.timers.after(delayMs, () => this.#connect())
  }

  #giveUp() {
    this.#cancelAttempt()
    this.#cancelTap()
    const link = this.#link
    this.#link = null
    link?.close()
  }

  #beginOutage(sinceMs: number) {
    if (this.#outage) return
    this.#outage = true
    this.#cancelTap()
    this.#cancelTap = this.#parts.timers.after(NEEDS_TAP_AFTER_MS - sinceMs, () => {
      this.#tapNeeded = true
      this.#show(this.#phase)
    })
  }

  #endOutage() {
    this.#outage = false
    this.#cancelTap()
    this.#tapNeeded = false
    this.#fault = null
    this.#attempt = 0
    this.#streamed = true
    this.#show('streaming')
  }

  #show(phase: ConnectionPhase) {
    const tries = phase !== 'streaming' && phase !== 'choosing' && phase !== 'closed'
    const shown = this.#tapNeeded && tries ? 'needs-tap' : phase
    if (shown === this.#phase && this.#fault === this.#shownFault) return
    this.#phase = shown
    this.#shownFault = this.#fault
    this.#handlers.onPhase(shown, this.#fault)
  }
}
