import { paths } from '../routes'

/** A secret rides in the fragment of an address: what follows `#` is never sent to a server by a browser. */
const link = (path: string) => (secret: string, origin: string) => `${origin}${path}#${secret}`

export const joinLink = link(paths.join)
export const shareLink = link(paths.shared)

/** The secret in the fragment of an address, or null when it is not a whole one. */
export function secretOf(hash: string): string | null {
  const secret = hash.replace(/^#/, '')
  return /^[A-Za-z0-9_-]{40,64}$/.test(secret) ? secret : null
}

/** Takes the secret out of the address at once: a reload, a screenshot or a shared tab must not carry it. */
export function takeSecret(): string | null {
  const secret = secretOf(window.location.hash)
  if (window.location.hash !== '') history.replaceState(null, '', window.location.pathname)
  return secret
}

/** Why somebody elsewhere could not open a link of this address, or null when nothing speaks against it. */
export function linkProblem(hostname: string): string | null {
  const name = hostname.replace(/^\[|\]$/g, '').toLowerCase()
  const isLoopback =
    name === 'localhost' || name.endsWith('.localhost') || name === '::1' || /^127\./.test(name)
  return isLoopback
    ? 'This address works on this computer only. For somebody elsewhere, serve Swaybook under an address they can ' +
        'open (see README), and make the link there.'
    : null
}
