import { isIP } from 'node:net'
import { ConfigError } from '../config-error.ts'
import { AddressList } from './address-list.ts'

/**
 * Who can reach this server: `this computer` (plain HTTP on loopback), others by TLS of its own (`tls`), or others
 * through a proxy that has the certificate (`proxy`). Beyond `this computer` nobody comes in without a password.
 */
export type Exposure = 'this computer' | 'tls' | 'proxy'

export interface TlsFiles {
  readonly certFile: string
  readonly keyFile: string
}

export interface ExposureSettings {
  readonly exposure: Exposure
  /** Address to listen on. */
  readonly host: string
  /** Origins people open, `https://name[:port]`; the first one is what links and the printed line say. */
  readonly publicOrigins: readonly string[]
  /** Of the server itself; behind a proxy also for the way from the proxy. */
  readonly tlsFiles: TlsFiles | null
  /** From where the proxy may call: addresses, CIDR ranges, `loopback`. */
  readonly proxyAddresses: readonly string[]
  /** Further loopback origins that may use the API, e.g. that of a development server. */
  readonly origins: readonly string[]
}

type Env = Readonly<Record<string, string | undefined>>

const LOOPBACK_HOSTS = new Set(['127.0.0.1', '::1', 'localhost'])

/**
 * How far the environment opens this server. Nothing is opened by half: what is missing is refused in one line.
 * @throws {ConfigError}
 */
export function exposureOf(env: Env, proxyOption: boolean): ExposureSettings {
  const host = env.HOST || '127.0.0.1'
  const behindProxy = proxyOption || isOn(env, 'SWAYBOOK_BEHIND_PROXY')
  const tlsFiles = tlsFilesOf(env)
  const exposure = behindProxy ? 'proxy' : tlsFiles ? 'tls' : 'this computer'
  if (exposure === 'this computer' && !LOOPBACK_HOSTS.has(host)) {
    throw new ConfigError(
      `HOST=${host} would let other computers in unencrypted. Set SWAYBOOK_TLS_CERT and SWAYBOOK_TLS_KEY, ` +
        'or start with --behind-proxy behind a proxy that speaks HTTPS, or use HOST=127.0.0.1.',
    )
  }
  if (!LOOPBACK_HOSTS.has(host) && isIP(host) === 0) {
    throw new ConfigError(`HOST=${host} is no address. Use one of this computer, or 0.0.0.0 or :: for all.`)
  }
  return {
    exposure,
    host,
    publicOrigins: publicOriginsOf(env, exposure),
    tlsFiles,
    proxyAddresses: proxyAddressesOf(env, exposure),
    origins: developmentOrigins(env, exposure),
  }
}

function isOn(env: Env, name: string): boolean {
  const text = env[name] ?? ''
  if (['', '0', '1'].includes(text)) return text === '1'
  throw new ConfigError(`${name}=${text} is not understood. Use 1 for yes, 0 or nothing for no.`)
}

function tlsFilesOf({ SWAYBOOK_TLS_CERT: certFile, SWAYBOOK_TLS_KEY: keyFile }: Env): TlsFiles | null {
  if (!certFile && !keyFile) return null
  if (certFile && keyFile) return { certFile, keyFile }
  const [given, missing] = certFile ? ['CERT', 'KEY'] : ['KEY', 'CERT']
  throw new ConfigError(
    `SWAYBOOK_TLS_${given} is set and SWAYBOOK_TLS_${missing} is not. Set both, to PEM files of one pair.`,
  )
}

function publicOriginsOf({ SWAYBOOK_PUBLIC_URL: text = '' }: Env, exposure: Exposure): string[] {
  const origins = listed(text).map(publicOrigin)
  if (exposure === 'this computer' && origins.length > 0) {
    throw new ConfigError(
      'SWAYBOOK_PUBLIC_URL is for a server that others reach. Set SWAYBOOK_TLS_CERT and SWAYBOOK_TLS_KEY or ' +
        'start with --behind-proxy, or leave it out.',
    )
  }
  if (exposure !== 'this computer' && origins.length === 0) {
    throw new ConfigError(
      'SWAYBOOK_PUBLIC_URL is missing: set it to the address people open, https://name[:port] (several: joined ' +
        'by commas). Requests under any other name are refused.',
    )
  }
  return origins
}

function publicOrigin(text: string): string {
  if (/^https:\/\/[^/?#@\s]+\/?$/i.test(text) && URL.canParse(text)) return new URL(text).origin
  throw new ConfigError(
    `SWAYBOOK_PUBLIC_URL holds ${text}. Use https://name or https://name:port, nothing after it; several joined by commas.`,
  )
}

function proxyAddressesOf({ SWAYBOOK_PROXY_ADDRESSES: text = '' }: Env, exposure: Exposure): string[] {
  const addresses = listed(text)
  if (exposure !== 'proxy' && addresses.length > 0) {
    throw new ConfigError(
      'SWAYBOOK_PROXY_ADDRESSES means nothing without a proxy. Start with --behind-proxy, or leave it out.',
    )
  }
  const wrong = addresses.find((address) => !AddressList.understands(address))
  if (wrong === undefined) return addresses.length > 0 ? addresses : ['loopback']
  throw new ConfigError(
    `SWAYBOOK_PROXY_ADDRESSES holds ${wrong}. Use addresses or ranges the proxy calls from, such as 172.18.0.1 ` +
      'or 172.18.0.0/16, or loopback, joined by commas; never a range that clients are in.',
  )
}

function developmentOrigins({ SWAYBOOK_ORIGINS: text = '' }: Env, exposure: Exposure): string[] {
  const origins = listed(text)
  if (exposure !== 'this computer' && origins.length > 0) {
    throw new ConfigError(
      'SWAYBOOK_ORIGINS is for development on this computer alone. Leave it out where others get in.',
    )
  }
  const wrong = origins.find((origin) => !isLoopbackOrigin(origin))
  if (wrong === undefined) return origins
  throw new ConfigError(
    `SWAYBOOK_ORIGINS holds ${wrong}. Use loopback origins such as http://localhost:5173, joined by commas.`,
  )
}

function isLoopbackOrigin(text: string): boolean {
  const url = URL.canParse(text) ? new URL(text) : null
  return url !== null && url.origin === text && LOOPBACK_HOSTS.has(url.hostname.replace(/^\[|\]$/g, ''))
}

function listed(text: string): string[] {
  return text
    .split(',')
    .map((part) => part.trim())
    .filter(Boolean)
}
