import { GattTimeout } from './gatt-queue'

/** What ended a link, or kept it from beginning. */
export type LinkFaultKind =
  /** The list was closed without a choice, or showed nothing. */
  | 'not-chosen'
  /** This device has no Bluetooth, or it is switched off. */
  | 'no-adapter'
  /** The browser forbids it: a policy, a blocked service, no tap. */
  | 'not-allowed'
  | 'connect'
  | 'discover'
  /** The sensor does not have the service or characteristic of the layout. */
  | 'not-there'
  | 'subscribe'
  /** The sensor refused the bytes that begin its stream. */
  | 'start-write'
  /** The sensor or the radio ended the link. */
  | 'lost'
  /** Connected, but nothing came for 4 s. */
  | 'silent'

export interface LinkFault {
  readonly kind: LinkFaultKind
  /** True when the step ran out of time. */
  readonly timedOut: boolean
  /** What the browser said, for a person who looks closely. */
  readonly detail: string
}

export function linkFault(kind: LinkFaultKind, error?: unknown): LinkFault {
  return {
    kind: kind === 'discover' && nameOf(error) === 'NotFoundError' ? 'not-there' : kind,
    timedOut: error instanceof GattTimeout,
    detail: error instanceof Error ? error.message : '',
  }
}

/** Why `requestDevice` gave no device. Browsers report a closed list and a missing adapter alike. */
export function requestFault(error: unknown): LinkFault {
  return linkFault(nameOf(error) === 'NotFoundError' ? 'not-chosen' : 'not-allowed', error)
}

function nameOf(error: unknown): string {
  return error instanceof Error ? error.name : ''
}
