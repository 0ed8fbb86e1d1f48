import type { ServerOptions } from 'node:http'
import type { Config } from '../config.ts'
import { AddressList } from './address-list.ts'
import { readCertificate } from './certificate.ts'
import { TLS_PROTOCOL } from './tls-protocol.ts'

const MAX_HEADER_BYTES = 16 * 1024
const CHECK_MS = 2000

/**
 * Fastify's options for the server this configuration asks for, with TLS or without.
 * @throws {ConfigError} for a certificate that cannot be served
 */
export function httpServer(config: Config) {
  const { exposure, proxyAddresses, tlsFiles, publicOrigins, limits } = config
  const proxies = new AddressList(proxyAddresses)
  const pair = tlsFiles && readCertificate(tlsFiles, publicOrigins, new Date())
  const bounds = {
    maxHeaderSize: MAX_HEADER_BYTES,
    headersTimeout: limits.headersMs,
    requestTimeout: limits.importReceiveMs,
    // How often the two before are looked after.
    connectionsCheckingInterval: Math.min(CHECK_MS, limits.headersMs),
  }
  // A server of https is one of http too; the types of one serve for both.
  const secure = pair && {
    ...TLS_PROTOCOL,
    ...bounds,
    cert: pair.cert,
    key: pair.key,
    handshakeTimeout: limits.headersMs,
  }
  return {
    ...(secure ? { https: secure } : { http: bounds }),
    // The longest of all; shorter ones per route (plugins/slow-bodies.ts).
    requestTimeout: limits.importReceiveMs,
    trustProxy: exposure === 'proxy' && ((address: string) => proxies.has(address)),
  } as { http?: ServerOptions; requestTimeout: number; trustProxy: false | ((address: string) => boolean) }
}
