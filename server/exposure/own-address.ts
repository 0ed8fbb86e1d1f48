import type { IncomingHttpHeaders } from 'node:http'
import type { ExposureSettings } from './exposure.ts'

const LOOPBACK_NAMES = new Set(['localhost', '127.0.0.1', '[::1]'])

/** The name and port the client asked for: behind a proxy what the proxy says it was. */
export function askedHost(
  headers: IncomingHttpHeaders,
  { exposure }: Pick<ExposureSettings, 'exposure'>,
): string {
  const forwarded = exposure === 'proxy' ? lastOf(headers['x-forwarded-host']) : undefined
  return forwarded ?? headers.host ?? ''
}

/**
 * The origin of this server's own pages under the name a client asked for; null when it is not one of ours.
 * @param port this server listens on; any one while it does not listen
 */
export function ownOrigin(
  host: string,
  { exposure, publicOrigins }: Pick<ExposureSettings, 'exposure' | 'publicOrigins'>,
  port: number | null,
): string | null {
  if (exposure === 'this computer') return isLoopbackHost(host, port) ? `http://${host}` : null
  if (!/^(\[[0-9a-f:.]+\]|[^:[\]/?#@\s]+)(:\d+)?$/i.test(host) || !URL.canParse(`https://${host}`))
    return null
  const { origin } = new URL(`https://${host}`)
  return publicOrigins.includes(origin) ? origin : null
}

/** True for a loopback name with the port this server listens on (any port while it does not listen). */
export function isLoopbackHost(host: string, port: number | null): boolean {
  const match = /^(\[[0-9a-f:]+\]|[^:[\]]+)(?::(\d+))?$/i.exec(host)
  if (!match || !LOOPBACK_NAMES.has(match[1].toLowerCase())) return false
  return port === null || Number(match[2] ?? 80) === port
}

/** Of a header that each proxy adds to, the value of the nearest. */
export function lastOf(header: string | string[] | undefined): string | undefined {
  return header?.toString().split(',').at(-1)?.trim()
}
