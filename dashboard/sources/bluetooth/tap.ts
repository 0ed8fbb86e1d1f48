import type { PacketLayout } from '#signal/packet/layout'
import { browserParts } from './browser-parts'
import { SensorConnection } from './connection'
import type { ConnectionParts, ConnectionPhase } from './connection'
import { deviceRequest, linkTarget } from './link-target'
import { linkWords } from './link-words'

/** The bytes of a sensor as they come, undecoded: what the editor of packet layouts previews. */
export interface PacketTap {
  /** What is going on, for a person. */
  readonly words: string
  /** Calls back for every notification until the returned function is called. */
  subscribe(onBytes: (bytes: DataView, arrivedAtMs: number) => void): () => void
  /** Calls back whenever `words` changes. */
  watch(onWords: (words: string) => void): () => void
  close(): void
}

export interface TapOptions {
  /** The browser lists every device in reach: wanted while the layout is not yet sure. */
  readonly everyDevice?: boolean
  readonly parts?: ConnectionParts
}

/**
 * Connects to a sensor by the addresses of a layout (service, characteristic, start and stop writes; the rest of
 * it is not looked at). Must be called inside a tap.
 *
 * @returns the tap once packets come
 * @throws {Error} with words for a person, when no sensor was chosen or it cannot be read
 */
export function openTap(layout: PacketLayout, options: TapOptions = {}): Promise<PacketTap> {
  const byteListeners = new Set<(bytes: DataView, arrivedAtMs: number) => void>()
  const wordListeners = new Set<(words: string) => void>()
  return new Promise((resolve, reject) => {
    let words = ''
    let opened = false
    const connection = new SensorConnection(
      linkTarget(layout),
      {
        onPhase: (phase, fault) => {
          const again = opened ? 'disconnect and connect again' : 'connect again'
          words = linkWords(phase, fault, connection.device?.name || 'the sensor', again)
          for (const listener of wordListeners) listener(words)
          if (!opened) settle(phase)
        },
        onLink: () => {},
        onPacket: (bytes, arrivedAtMs) => {
          for (const listener of byteListeners) listener(bytes, arrivedAtMs)
        },
      },
      options.parts ?? browserParts(),
    )

    function settle(phase: ConnectionPhase) {
      if (phase === 'streaming') {
        opened = true
        resolve(tap)
      } else if (phase === 'needs-tap') {
        reject(new Error(words))
        void connection.close()
      }
    }

    const tap: PacketTap = {
      get words() {
        return words
      },
      subscribe: (onBytes) => registered(byteListeners, onBytes),
      watch: (onWords) => registered(wordListeners, onWords),
      close: () => void connection.close(),
    }

    connection.choose(deviceRequest(layout, options.everyDevice ?? false))
  })
}

function registered<T>(listeners: Set<T>, listener: T): () => void {
  listeners.add(listener)
  return () => void listeners.delete(listener)
}
