import type { ConnectionPhase } from './connection'
import type { LinkFault } from './link-fault'

const NEARBY = 'Bring it close and check that it is switched on.'

/**
 * One sentence or two for a person: what is going on, and what to do when it needs them.
 *
 * @param again how the person opens the list again, as a command in small letters
 */
export function linkWords(
  phase: ConnectionPhase,
  fault: LinkFault | null,
  name: string,
  again = 'tap Reconnect',
): string {
  switch (phase) {
    case 'idle':
    case 'closed':
      return 'The sensor is not connected.'
    case 'choosing':
      return 'Choose the sensor in the list that the browser shows.'
    case 'connecting':
      return `Connecting to ${name} …`
    case 'discovering':
      return `Connected to ${name}; waiting for its first packet …`
    case 'streaming':
      return `${name} is sending.`
    case 'stalled':
      return `${name} is connected, but nothing has come from it for 1.5 s.`
    case 'reconnecting':
      return `${faultWords(fault, name)} Trying again …`
    case 'needs-tap':
      return `${faultWords(fault, name)} ${remedy(fault, again)}`
  }
}

function faultWords(fault: LinkFault | null, name: string): string {
  switch (fault?.kind) {
    case 'not-chosen':
      return 'No sensor was chosen.'
    case 'no-adapter':
      return 'Bluetooth is off, or this device has none.'
    case 'not-allowed':
      return `The browser does not allow it: ${fault.detail || 'no reason given'}.`
    case 'connect':
      return `${name} did not answer${fault.timedOut ? ' within 15 s' : ''}.`
    case 'discover':
      return `${name} did not say what it can measure${fault.timedOut ? ' within 10 s' : ''}.`
    case 'not-there':
      return `${name} does not have what this packet layout reads.`
    case 'subscribe':
      return `${name} did not agree to send its measurements.`
    case 'start-write':
      return `${name} refused to start its stream.`
    case 'silent':
      return `${name} was connected but silent for 4 s.`
    default:
      return `The link to ${name} is lost.`
  }
}

function remedy(fault: LinkFault | null, again: string): string {
  switch (fault?.kind) {
    case 'not-chosen':
      return `Not in the list? ${NEARBY} Then ${again} and pick it, or choose to have every Bluetooth device listed.`
    case 'no-adapter':
      return `Switch it on and ${again}, or record with a phone, or add a file of the sensor.`
    case 'not-allowed':
      return 'Record with a phone instead, or add a file of the sensor.'
    case 'not-there':
      return `Choose the layout of this sensor, or ${again} and pick another sensor.`
    default:
      return `${NEARBY} Then ${again} and pick it from the list: that is the quickest way back.`
  }
}
