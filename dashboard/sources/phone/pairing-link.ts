/** Where a phone opens the recorder; what follows `#` never leaves the browser that opens it. */
export const PHONE_PATH = '/phone'

export function pairingLink(secret: string, origin: string): string {
  return `${origin}${PHONE_PATH}#${secret}`
}

/** The secret in the fragment of an address, or null when it is not a whole one. */
export function pairingSecret(hash: string): string | null {
  const secret = hash.replace(/^#/, '')
  return /^[A-Za-z0-9_-]{40,64}$/.test(secret) ? secret : null
}

/**
 * Why a phone could not use this address, or null when it can: a loopback name is another device on every
 * device, and motion data need HTTPS.
 */
export function addressProblem({ hostname, protocol }: Pick<URL, 'hostname' | 'protocol'>): string | null {
  const name = hostname.replace(/^\[|\]$/g, '').toLowerCase()
  const isLoopback =
    name === 'localhost' || name.endsWith('.localhost') || name === '::1' || /^127\./.test(name)
  if (isLoopback) {
    return (
      'This address works on this device only. To use a phone, serve Swaybook under an address with HTTPS ' +
      'that the phone can open (see README).'
    )
  }
  if (protocol !== 'https:') {
    return (
      'This address has no HTTPS, and browsers give motion data to secure pages only. To use a phone, serve ' +
      'Swaybook under an address with HTTPS that the phone can open (see README).'
    )
  }
  return null
}
