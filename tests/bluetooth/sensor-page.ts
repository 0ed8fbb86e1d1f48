import { BUILT_IN_LAYOUTS } from '#signal/packet/built-in-layouts'
import { BluetoothSource } from '../../dashboard/sources/bluetooth/bluetooth-source'
import { browserParts } from '../../dashboard/sources/bluetooth/browser-parts'
import type { SourceInfo, SourcePacket, SourceState } from '../../dashboard/sources/source'

/** A page with the Bluetooth source alone: what it hears lies in `window.heard`. */
export interface Heard {
  infos: SourceInfo[]
  states: (SourceState & { atMs: number })[]
  /** First index, arrival, and x of every sample. */
  packets: { firstIndex: number; arrivedAtMs: number; x: number[]; reckoned: boolean }[]
}

const heard: Heard = { infos: [], states: [], packets: [] }
Object.assign(window, { heard })

const wanted = new URLSearchParams(location.search).get('layout')
const layout = BUILT_IN_LAYOUTS.find(({ id }) => id === wanted) ?? BUILT_IN_LAYOUTS[0]
const source = new BluetoothSource({ layout, everyDevice: false }, browserParts())

document.querySelector('#connect')!.addEventListener(
  'click',
  () =>
    source.start({
      onInfo: (info) => heard.infos.push(info),
      onState: (state) => heard.states.push({ ...state, atMs: performance.now() }),
      onPacket: ({ firstIndex, arrivedAtMs, values, reckoned }: SourcePacket) =>
        heard.packets.push({ firstIndex, arrivedAtMs, x: [...values[0]], reckoned: reckoned ?? false }),
      onMark: () => {},
      onEnd: () => {},
    }),
  { once: true },
)
document.querySelector('#reconnect')!.addEventListener('click', () => source.reconnect())
document.querySelector('#stop')!.addEventListener('click', () => source.stop())
