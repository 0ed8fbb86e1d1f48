import { execFile } from 'node:child_process'
import { chmod, readFile } from 'node:fs/promises'
import { join } from 'node:path'
import { promisify } from 'node:util'
import type { TlsFiles } from '#server/exposure/exposure'

export interface MadeCertificate extends TlsFiles {
  /** PEM, for a client to trust. */
  readonly ca: Buffer
}

/** A self-signed certificate made by openssl: `dogs.test`, `localhost` and 127.0.0.1 for a year unless told otherwise. */
export async function madeCertificate(
  dir: string,
  {
    name = 'tls',
    names = 'DNS:dogs.test,DNS:localhost,IP:127.0.0.1',
    keyArgs = ['ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1'],
  } = {},
): Promise<MadeCertificate> {
  const [certFile, keyFile] = [join(dir, `${name}.pem`), join(dir, `${name}.key`)]
  const [algorithm, ...options] = keyArgs
  const args = ['req', '-x509', '-newkey', algorithm, ...options, '-nodes', '-subj', '/CN=dogs.test']
  const to = ['-addext', `subjectAltName=${names}`, '-days', '365', '-keyout', keyFile, '-out', certFile]
  await promisify(execFile)('openssl', [...args, ...to])
  await chmod(keyFile, 0o600)
  return { certFile, keyFile, ca: await readFile(certFile) }
}
