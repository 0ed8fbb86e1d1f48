import type { ServerOptions } from 'node:http'
import type { Config } from '../config.ts'
import { AddressList } from './address-list.ts'
import { readCertificate } from './certificate.ts'
import { TLS_PROTOCOL } from './tls-protocol.ts'

/**
 * Fastify's options for the server this configuration asks for, with TLS or without.
 * @throws {ConfigError} for a certificate that cannot be served
 */
export function httpServer(config: Config) {
  const { exposure, proxyAddresses, tlsFiles, publicOrigins } = config
  const proxies = new AddressList(proxyAddresses)
  const pair = tlsFiles && readCertificate(tlsFiles, publicOrigins, new Date())
  return {
    // A server of https is one of http too; the types of one serve for both.
    ...(pair && { https: { ...TLS_PROTOCOL, cert: pair.cert, key: pair.key } }),
    trustProxy: exposure === 'proxy' && ((address: string) => proxies.has(address)),
  } as { http?: ServerOptions; trustProxy: false | ((address: string) => boolean) }
}
