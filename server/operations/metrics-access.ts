import { createHash, timingSafeEqual } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { ConfigError } from '../config-error.ts'
import { ServerError } from '../errors.ts'

/** As long as a random token of 128 bits in hexadecimal digits. */
const MIN_TOKEN_CHARACTERS = 32

/**
 * Lets a reader of metrics in: the keeper, who on a server for this computer alone is anybody on it while there is no
 * password, or one with the token.
 * @throws {ServerError}
 */
export function requireMetricsReader(
  token: string | null,
  authorization: string | undefined,
  isKeeper: boolean,
): void {
  if (isKeeper) return
  const [, given = ''] = /^Bearer (\S+)$/i.exec(authorization ?? '') ?? []
  if (token !== null && timingSafeEqual(hashOf(given), hashOf(token))) return
  throw new ServerError('METRICS_TOKEN_REQUIRED')
}

/** @throws {ConfigError} for a file that holds no token */
export function metricsTokenFrom(file: string | undefined): string | null {
  if (!file) return null
  let text: string
  try {
    text = readFileSync(file, 'utf8').trim()
  } catch (cause) {
    const { message } = cause as Error
    throw new ConfigError(`SWAYBOOK_METRICS_TOKEN_FILE cannot be read: ${message}.`, { cause })
  }
  if (text.length >= MIN_TOKEN_CHARACTERS && !/\s/.test(text)) return text
  throw new ConfigError(
    `SWAYBOOK_METRICS_TOKEN_FILE ${file} must hold one token of ${MIN_TOKEN_CHARACTERS} characters or more, ` +
      'e.g. from: openssl rand -hex 32',
  )
}

function hashOf(text: string): Buffer {
  return createHash('sha256').update(text).digest()
}
