import { ConfigError } from '../../config-error.ts'
import { secretSetting } from '../../secret-file.ts'
import { INFLUX_TIMES } from './settings.ts'
import type { InfluxSettings, InfluxTarget } from './settings.ts'

type Env = Readonly<Record<string, string | undefined>>

const V1 = ['INFLUX_DATABASE', 'INFLUX_USERNAME', 'INFLUX_PASSWORD', 'INFLUX_PASSWORD_FILE'] as const
const V2 = ['INFLUX_ORG', 'INFLUX_BUCKET', 'INFLUX_TOKEN', 'INFLUX_TOKEN_FILE'] as const

/**
 * Where samples are kept: null for the embedded store. Whether InfluxDB is there is not asked: it may come later.
 * @throws {ConfigError} for settings that cannot be meant, naming them but no secret
 */
export function loadSeriesSettings(env: Env): InfluxSettings | null {
  const series = env.SWAYBOOK_SERIES || 'sqlite'
  if (series === 'sqlite') return null
  if (series !== 'influx') {
    throw new ConfigError(`SWAYBOOK_SERIES=${series} is not known. Use sqlite (the default) or influx.`)
  }
  return loadInfluxSettings(env)
}

/** @throws {ConfigError} */
export function loadInfluxSettings(env: Env): InfluxSettings {
  return { url: serverUrl(env.INFLUX_URL), target: targetOf(env), ...INFLUX_TIMES }
}

function serverUrl(text: string | undefined): string {
  const url = text && URL.canParse(text) ? new URL(text) : null
  if (url?.username || url?.password) {
    throw new ConfigError(
      'INFLUX_URL holds a user name or password. Take them out: use INFLUX_USERNAME and INFLUX_PASSWORD_FILE (1.x) or ' +
        'INFLUX_TOKEN_FILE (2.x).',
    )
  }
  if (url && /^https?:$/.test(url.protocol) && !url.search && !url.hash) return url.href.replace(/\/+$/, '')
  throw new ConfigError(
    `INFLUX_URL${text ? `=${text}` : ''} is no address of InfluxDB. Use one such as http://127.0.0.1:8086.`,
  )
}

function targetOf(env: Env): InfluxTarget {
  const [v1, v2] = [V1, V2].map((names) => names.filter((name) => env[name]))
  if (v1.length > 0 && v2.length > 0) {
    throw new ConfigError(
      `${v1[0]} is for InfluxDB 1.x and ${v2[0]} for 2.x. Set INFLUX_DATABASE (1.x), or INFLUX_ORG, INFLUX_BUCKET and ` +
        'INFLUX_TOKEN_FILE (2.x), not both.',
    )
  }
  if (v2.length > 0) {
    const token = secretSetting(env, 'INFLUX_TOKEN')
    return {
      api: 'v2',
      org: needed(env, 'INFLUX_ORG'),
      bucket: needed(env, 'INFLUX_BUCKET'),
      token: given(token),
    }
  }
  const database = needed(env, 'INFLUX_DATABASE')
  const password = secretSetting(env, 'INFLUX_PASSWORD')
  const username = env.INFLUX_USERNAME || null
  if ((username === null) !== (password === null)) {
    throw new ConfigError(
      'INFLUX_USERNAME and INFLUX_PASSWORD (or INFLUX_PASSWORD_FILE) belong together. Set both, or neither for an ' +
        'InfluxDB without accounts.',
    )
  }
  return { api: 'v1', database, login: username && password ? { username, password } : null }
}

function given(token: string | null): string {
  if (token === null) {
    throw new ConfigError('INFLUX_TOKEN is missing. Set it, or INFLUX_TOKEN_FILE to a file that holds it.')
  }
  // It becomes a header.
  if (/^[\x21-\x7e]+$/.test(token)) return token
  throw new ConfigError('INFLUX_TOKEN holds a space, a line end or another character that no token has.')
}

function needed(env: Env, name: string): string {
  const value = env[name]
  if (value) return value
  throw new ConfigError(
    `${name} is missing. SWAYBOOK_SERIES=influx needs INFLUX_URL with INFLUX_DATABASE (1.x), or with INFLUX_ORG, ` +
      'INFLUX_BUCKET and INFLUX_TOKEN_FILE (2.x).',
  )
}
