import { once } from 'node:events'
import { chmod, copyFile, readFile, writeFile } from 'node:fs/promises'
import { request } from 'node:https'
import type { AddressInfo } from 'node:net'
import { join } from 'node:path'
import { connect } from 'node:tls'
import type { ConnectionOptions, TLSSocket } from 'node:tls'
import { describe, expect, it, vi } from 'vitest'
import { readCertificate, watchCertificate } from '#server/exposure/certificate'
import { madeCertificate } from '../helpers/certificate.ts'
import type { MadeCertificate } from '../helpers/certificate.ts'
import { temporaryDir, testApp } from '../helpers/build-app.ts'
import { hasOpenssl } from '../helpers/openssl.mjs'

const ORIGINS = ['https://dogs.test', 'https://127.0.0.1:4173']
const DAY_MS = 86_400_000

const serving = async (tlsFiles: MadeCertificate, publicOrigins = ['https://dogs.test']) => {
  const app = await testApp({ exposure: 'tls', tlsFiles, publicOrigins })
  await app.listen({ host: '127.0.0.1', port: 0 })
  return { app, port: (app.server.address() as AddressInfo).port }
}

/** A TLS handshake with the server, or why it failed. */
async function handshake(port: number, options: ConnectionOptions): Promise<TLSSocket> {
  const socket = connect({ host: '127.0.0.1', port, servername: 'dogs.test', ...options })
  await once(socket, 'secureConnect')
  socket.destroy()
  return socket
}

async function get(port: number, ca: Buffer, path: string, headers: Record<string, string>) {
  const sent = request({ host: '127.0.0.1', port, ca, servername: 'dogs.test', path, headers }).end()
  const [response] = await once(sent, 'response')
  response.resume()
  return response as { statusCode: number; headers: Record<string, string> }
}

describe.skipIf(!hasOpenssl())('a certificate', () => {
  it('is read when it is a pair, in force and for the public names', async () => {
    const made = await madeCertificate(await temporaryDir())
    const { expiresAt } = readCertificate(made, ORIGINS, new Date())
    expect(expiresAt.getTime()).toBeGreaterThan(Date.now() + 300 * DAY_MS)
  })

  it('is refused in one line when it is not there, not one, no pair, too weak, another’s, too old or too new', async () => {
    const dir = await temporaryDir()
    const made = await madeCertificate(dir)
    const other = await madeCertificate(dir, { name: 'other' })
    const weak = await madeCertificate(dir, { name: 'weak', keyArgs: ['rsa:1024'] })
    const nonsense = join(dir, 'nonsense')
    await writeFile(nonsense, 'not a certificate', { mode: 0o600 })
    const refused = (files: object, reason: RegExp, origins = ORIGINS, now = new Date()) => {
      const read = () => readCertificate({ ...made, ...files }, origins, now)
      expect(read).toThrow(reason)
      expect(read).toThrow(/^[^\n]+$/)
    }
    refused({ certFile: join(dir, 'none') }, /SWAYBOOK_TLS_CERT names .*none, which cannot be read: ENOENT/)
    refused({ keyFile: join(dir, 'none') }, /SWAYBOOK_TLS_KEY names/)
    refused({ certFile: nonsense }, /holds no certificate. Use a PEM file/)
    refused({ keyFile: nonsense }, /holds no private key/)
    refused({ keyFile: other.keyFile }, /does not belong to the certificate/)
    refused(weak, /has 1024 bits.*RSA 2048/)
    refused({}, /is not for cats\.test but for DNS:dogs\.test/, ['https://cats.test'])
    refused({}, /is not for 10\.0\.0\.1/, ['https://10.0.0.1'])
    refused({}, /expired .*Renew it/, ORIGINS, new Date(Date.now() + 400 * DAY_MS))
    refused({}, /valid only from/, ORIGINS, new Date(Date.now() - 2 * DAY_MS))
  })

  it('is refused when its key is open to others, and when it is locked', async () => {
    const dir = await temporaryDir()
    const made = await madeCertificate(dir)
    if (process.platform !== 'win32') {
      for (const mode of [0o644, 0o604, 0o660]) {
        await chmod(made.keyFile, mode)
        expect(() => readCertificate(made, ORIGINS, new Date())).toThrow(
          /Others may read or change.*chmod 600/,
        )
      }
      await chmod(made.keyFile, 0o640)
      readCertificate(made, ORIGINS, new Date())
    }
    const { createPrivateKey } = await import('node:crypto')
    const locked = createPrivateKey(await readFile(made.keyFile)).export({
      type: 'pkcs8',
      format: 'pem',
      cipher: 'aes-256-cbc',
      passphrase: 'secret',
    })
    await writeFile(made.keyFile, locked, { mode: 0o600 })
    expect(() => readCertificate(made, ORIGINS, new Date())).toThrow(/is locked with a passphrase/)
  })

  it('serves TLS 1.2 and 1.3 with forward secrecy, and nothing older or weaker', async () => {
    const made = await madeCertificate(await temporaryDir(), { keyArgs: ['rsa:2048'] })
    const { port } = await serving(made)
    const { ca } = made
    for (const version of ['TLSv1.2', 'TLSv1.3'] as const) {
      const socket = await handshake(port, { ca, minVersion: version, maxVersion: version })
      expect([version, socket.authorized]).toEqual([version, true])
    }
    // SECLEVEL=0 lets this client try what the server has to refuse.
    const old = { ca, minVersion: 'TLSv1', maxVersion: 'TLSv1.1', ciphers: 'DEFAULT@SECLEVEL=0' } as const
    await expect(handshake(port, old)).rejects.toThrow(/alert|version|handshake/i)
    for (const ciphers of [
      'AES128-SHA',
      'AES256-GCM-SHA384',
      'ECDHE-RSA-AES128-SHA',
      'DHE-RSA-AES128-GCM-SHA256',
    ]) {
      await expect(handshake(port, { ca, maxVersion: 'TLSv1.2', ciphers }), ciphers).rejects.toThrow(
        /handshake/,
      )
    }
  })

  it('promises HTTPS for a year, under the public name alone, and says wss in the policy', async () => {
    const made = await madeCertificate(await temporaryDir())
    const { port } = await serving(made)
    const { statusCode, headers } = await get(port, made.ca, '/api/me', { host: 'dogs.test' })
    expect(statusCode).toBe(200)
    expect(headers['strict-transport-security']).toBe('max-age=31536000; includeSubDomains')
    expect(headers['content-security-policy']).toContain("connect-src 'self' wss://dogs.test;")
    for (const host of ['evil.example', `127.0.0.1:${port}`, `localhost:${port}`, 'dogs.test:4173']) {
      expect([host, (await get(port, made.ca, '/api/me', { host })).statusCode]).toEqual([host, 403])
    }
    // What watches over the process on its own machine need not know the public name.
    const watched = await get(port, made.ca, '/api/health', { host: `127.0.0.1:${port}` })
    expect(watched.statusCode).toBe(200)
  })

  it('that was renewed is served without a restart; one that does not fit leaves the one before', async () => {
    const dir = await temporaryDir()
    const made = await madeCertificate(dir)
    const renewed = await madeCertificate(dir, { name: 'renewed' })
    const { app, port } = await serving(made)
    const logged = vi.spyOn(app.log, 'error')
    await copyFile(renewed.certFile, made.certFile)
    app.renewCertificate()
    expect(logged).toHaveBeenCalledTimes(1)
    expect((await handshake(port, { ca: made.ca })).authorized).toBe(true)
    await copyFile(renewed.keyFile, made.keyFile)
    app.renewCertificate()
    expect((await handshake(port, { ca: renewed.ca })).authorized).toBe(true)
    await expect(handshake(port, { ca: made.ca })).rejects.toThrow(/self-signed|verify/i)
  })

  it('is looked at again when one of its files changes', async () => {
    const made = await madeCertificate(await temporaryDir())
    await new Promise<void>((resolve, reject) => {
      const stop = watchCertificate(
        made,
        () => {
          stop()
          resolve()
        },
        20,
      )
      writeFile(made.certFile, 'renewed').catch(reject)
    })
  })
})
