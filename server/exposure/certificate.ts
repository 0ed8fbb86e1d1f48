import { createPrivateKey, X509Certificate } from 'node:crypto'
import type { KeyObject } from 'node:crypto'
import { readFileSync, statSync, unwatchFile, watchFile } from 'node:fs'
import { isIP } from 'node:net'
import { createSecureContext } from 'node:tls'
import { ConfigError } from '../config-error.ts'
import type { TlsFiles } from './exposure.ts'
import { TLS_PROTOCOL } from './tls-protocol.ts'

/** How often the files are looked at for a renewal. */
const LOOK_MS = 10_000
/** NIST SP 800-131A. */
const MIN_RSA_BITS = 2048

export interface CertificatePair {
  readonly cert: Buffer
  readonly key: Buffer
  readonly expiresAt: Date
}

/**
 * Reads a certificate and its key and checks what would otherwise show only to visitors.
 * @param origins the names it has to be for
 * @throws {ConfigError} when it cannot be served: not there, not readable, open to others, no pair, expired, another's
 */
export function readCertificate(files: TlsFiles, origins: readonly string[], now: Date): CertificatePair {
  const cert = content(files.certFile, 'SWAYBOOK_TLS_CERT')
  const key = content(files.keyFile, 'SWAYBOOK_TLS_KEY')
  requirePrivate(files.keyFile)
  const parsed = certificateIn(cert, files.certFile)
  if (!parsed.checkPrivateKey(privateKeyIn(key, files.keyFile))) {
    throw new ConfigError(
      `The key in ${files.keyFile} does not belong to the certificate in ${files.certFile}. Set ` +
        'SWAYBOOK_TLS_CERT and SWAYBOOK_TLS_KEY to files of one pair (the certificate first in its file).',
    )
  }
  const [from, until] = [new Date(parsed.validFrom), new Date(parsed.validTo)]
  if (now < from || now > until) {
    const when = now < from ? `is valid only from ${from.toISOString()}` : `expired ${until.toISOString()}`
    throw new ConfigError(`The certificate in ${files.certFile} ${when}. Renew it, or set the clock.`)
  }
  for (const origin of origins) requireName(parsed, origin, files.certFile)
  const bits = parsed.publicKey.asymmetricKeyDetails?.modulusLength ?? null
  if (bits !== null && bits < MIN_RSA_BITS) {
    throw new ConfigError(
      `The key of the certificate in ${files.certFile} has ${bits} bits. Make one with RSA ${MIN_RSA_BITS} or P-256.`,
    )
  }
  try {
    createSecureContext({ cert, key, ...TLS_PROTOCOL })
  } catch (cause) {
    throw new ConfigError(
      `The certificate in ${files.certFile} cannot be served: ${(cause as Error).message}. Make a new one.`,
      { cause },
    )
  }
  return { cert, key, expiresAt: until }
}

/** Calls `changed` whenever one of the files is written or replaced, until the returned function is called. */
export function watchCertificate(files: TlsFiles, changed: () => void, lookMs = LOOK_MS): () => void {
  const paths = [files.certFile, files.keyFile]
  // By looking, not by notices: a renewal may swap a link or a whole folder.
  for (const path of paths) watchFile(path, { interval: lookMs, persistent: false }, changed)
  return () => {
    for (const path of paths) unwatchFile(path, changed)
  }
}

function content(path: string, setting: string): Buffer {
  try {
    return readFileSync(path)
  } catch (cause) {
    throw new ConfigError(
      `${setting} names ${path}, which cannot be read: ${(cause as Error).message}. Set it to a PEM file this ` +
        'account may read.',
      { cause },
    )
  }
}

/** A group may read a key (servers of one machine often share one that way); nobody else may. */
function requirePrivate(path: string): void {
  // Windows has no such permissions.
  if (process.platform === 'win32' || (statSync(path).mode & 0o027) === 0) return
  throw new ConfigError(`Others may read or change the key ${path}. Run chmod 600 on it.`)
}

function certificateIn(pem: Buffer, path: string): X509Certificate {
  try {
    return new X509Certificate(pem)
  } catch (cause) {
    throw new ConfigError(
      `SWAYBOOK_TLS_CERT: ${path} holds no certificate. Use a PEM file, -----BEGIN CERTIFICATE-----.`,
      { cause },
    )
  }
}

function privateKeyIn(pem: Buffer, path: string): KeyObject {
  try {
    return createPrivateKey(pem)
  } catch (cause) {
    const locked = /ENCRYPTED/.test(pem.toString('latin1'))
    const what = locked ? 'is locked with a passphrase' : 'holds no private key'
    throw new ConfigError(
      `SWAYBOOK_TLS_KEY: ${path} ${what}. Use a PEM file with the plain key, readable by this account alone.`,
      { cause },
    )
  }
}

function requireName(certificate: X509Certificate, origin: string, path: string): void {
  const name = new URL(origin).hostname.replace(/^\[|\]$/g, '')
  const fits = isIP(name) ? certificate.checkIP(name) : certificate.checkHost(name)
  if (fits !== undefined) return
  throw new ConfigError(
    `The certificate in ${path} is not for ${name} but for ${certificate.subjectAltName ?? 'no name at all'}. ` +
      'Make one with that name (subjectAltName), or set SWAYBOOK_PUBLIC_URL to a name it has.',
  )
}
