import type { SourceChoice } from '../source'
import { browserBluetooth } from './bluetooth-api'

const INSTEAD =
  'Record with a phone in the harness instead, or add the file of a sensor that keeps its own after the session.'

export const choice: SourceChoice = {
  sensor: 'bluetooth',
  order: 10,
  title: 'Bluetooth sensor',
  explanation:
    'A small accelerometer on the harness sends straight to this browser. It needs Chrome or Edge on a computer ' +
    'or an Android phone, and a sensor whose packets are described to Swaybook once.',
  unavailable() {
    if (!window.isSecureContext) {
      return `Browsers give Bluetooth to secure pages only: open this page by its https address. ${INSTEAD}`
    }
    if (!browserBluetooth()) {
      return (
        'This browser cannot reach Bluetooth sensors: Safari, Firefox and every browser on an iPhone or iPad lack ' +
        `it, Chrome and Edge have it (on Linux only when switched on among their experiments). ${INSTEAD}`
      )
    }
    return null
  },
  Setup: () => import('./Setup.svelte'),
}
