import { browserBluetooth } from './bluetooth-api'
import type { ConnectionParts } from './connection'
import { windowTimers } from './timers'

/**
 * What a connection is made of in this browser.
 *
 * @throws {Error} without Web Bluetooth; `choice.unavailable()` tells so beforehand
 */
export function browserParts(): ConnectionParts {
  const bluetooth = browserBluetooth()
  if (!bluetooth) throw new Error('This browser has no Web Bluetooth.')
  return { bluetooth, timers: windowTimers, random: Math.random }
}
