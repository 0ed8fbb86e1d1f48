import type { PacketLayout } from '#signal/packet/layout'
import { resolutionOf, scaleOf } from '#signal/packet/units'
import { layoutHash } from '../../lib/layout-shelf'
import type { SensorSource, SourceHandlers, SourcePhase, SourceState } from '../source'
import { SensorConnection } from './connection'
import type { ConnectionParts, ConnectionPhase } from './connection'

import type { Link } from './link'
import type { LinkFault } from './link-fault'
import { deviceRequest, linkTarget } from './link-target'
import { linkWords } from './link-words'
import { PacketReader } from './packet-reader'
import { readSensorFacts } from './sensor-facts'
import type { SensorFacts } from './sensor-facts'

/** As the server keeps it. */
const LONGEST_NAME = 120

export interface BluetoothChoice {
  readonly layout: PacketLayout
  /** The browser lists every device in reach, not only those that advertise the layout's service. */
  readonly everyDevice: boolean
}

/** A sensor over Web Bluetooth, its packets decoded by a layout. Samples are stamped on arrival here. */
export class BluetoothSource implements SensorSource {
  readonly sensor = 'bluetooth'
  readonly #choice: BluetoothChoice
  readonly #connection: SensorConnection
  readonly #reader: PacketReader
  #handlers: SourceHandlers | null = null
  #link: Link | null = null
  #facts: SensorFacts = {}
  #layoutHash: string | null = null
  #phase: ConnectionPhase = 'idle'
  #fault: LinkFault | null = null
  #told: SourceState | null = null

  constructor(choice: BluetoothChoice, parts: ConnectionParts) {
    this.#choice = choice
    this.#reader = new PacketReader(choice.layout)
    this.#connection = new SensorConnection(
      linkTarget(choice.layout),
      {
        onPhase: (phase, fault) => {
          this.#phase = phase
          this.#fault = fault
          this.#tell()
        },
        onLink: (link) => this.#linked(link),
        onPacket: (bytes, arrivedAtMs) => this.#take(bytes, arrivedAtMs),
      },
      parts,
    )
  }

  start(handlers: SourceHandlers) {
    this.#handlers = handlers
    this.reconnect()
    // Known long before the first packet; told once more if not.
    void layoutHash(this.#choice.layout).then((hash) => {
      this.#layoutHash = hash
      if (this.#link) this.#inform()
    })
  }

  reconnect() {
    this.#connection.choose(deviceRequest(this.#choice.layout, this.#choice.everyDevice))
  }

  stop() {
    this.#handlers = null
    void this.#connection.close()
  }

  #linked(link: Link) {
    if (this.#link) this.#reader.linkRestored()
    this.#link = link
    this.#inform()
    // After the first packets: reading in between them costs nothing.
    void readSensorFacts(link.device.gatt!, link.queue).then((facts) => {
      if (link !== this.#link) return
      this.#facts = facts
      this.#inform()
      this.#tell()
    })
  }

  #inform() {
    const { layout } = this.#choice
    const { model, firmware, batteryPercent } = this.#facts
    const name = [this.#name(), model, firmware && `firmware ${firmware}`].filter(Boolean).join(', ')
    const scale = scaleOf(layout)
    const resolutionMs2 = resolutionOf(layout)
    this.#handlers?.onInfo({
      nominalRateHz: layout.nominalRateHz,
      channels: layout.channels.length === 6 ? 6 : 3,
      ...(resolutionMs2 !== undefined && { resolutionMs2 }),
      ...(scale && { scale }),
      ...(layout.mount !== undefined && { mount: layout.mount }),
      description: {
        name: name.slice(0, LONGEST_NAME),
        layout,
        ...(this.#layoutHash !== null && { layoutHash: this.#layoutHash }),
        ...(batteryPercent !== undefined && { batteryPercent }),
      },
    })
  }

  #take(bytes: DataView, arrivedAtMs: number) {
    const { faults, misfit, batteryLow } = this.#reader
    for (const packet of this.#reader.read(bytes, arrivedAtMs)) this.#handlers?.onPacket(packet)
    const reader = this.#reader
    if (reader.faults === faults && reader.batteryLow === batteryLow && !misfit) return
    this.#tell()
    if (reader.misfit?.always) this.stop() // the wrong layout reads no better with time
  }

  #name() {
    return this.#connection.device?.name || 'the sensor'
  }

  #tell() {
    const state = this.#state()
    if (state.phase === this.#told?.phase && state.words === this.#told.words) return
    this.#told = state
    this.#handlers?.onState(state)
  }

  #state(): SourceState {
    const { misfit } = this.#reader
    if (misfit && this.#phase === 'streaming') {
      const words = `${upper(this.#name())} sends, but its packets do not fit the layout “${this.#choice.layout.name}”: ${misfit.message}.`
      return misfit.always
        ? { phase: 'failed', words: `${words} Choose the layout of this sensor and connect again.` }
        : { phase: 'stalled', words }
    }
    return { phase: sourcePhase(this.#phase), words: this.#words() }
  }

  #words(): string {
    const words = upper(linkWords(this.#phase, this.#fault, this.#name()))
    if (this.#phase !== 'streaming') return words
    const { batteryPercent } = this.#facts
    const { faults, batteryLow, lossUnknown } = this.#reader
    return [
      words,
      batteryLow ? 'Its battery is low.' : batteryPercent !== undefined && `Battery ${batteryPercent} %.`,
      faults > 0 && `${faults === 1 ? '1 packet' : `${faults} packets`} could not be read.`,
      lossUnknown && 'Its packets carry no counter: lost samples go unnoticed.',
    ]
      .filter(Boolean)
      .join(' ')
  }
}

function sourcePhase(phase: ConnectionPhase): SourcePhase {
  switch (phase) {
    case 'idle':
    case 'choosing':
    case 'connecting':
    case 'discovering':
      return 'connecting'
    case 'closed':
      return 'ended'
    default:
      return phase
  }
}

function upper(text: string): string {
  return text.slice(0, 1).toUpperCase() + text.slice(1)
}
