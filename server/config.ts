import { homedir } from 'node:os'
import { join, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { ConfigError } from './config-error.ts'
import { exposureOf } from './exposure/exposure.ts'
import type { ExposureSettings } from './exposure/exposure.ts'
import { metricsTokenFrom } from './operations/metrics-access.ts'
import { loadSeriesSettings } from './store/influx/load-settings.ts'
import type { InfluxSettings } from './store/influx/settings.ts'

export type LogLevel = 'fatal' | 'error' | 'warn' | 'info' | 'debug' | 'trace' | 'silent'

export interface Config extends ExposureSettings {
  /** 0 lets the system choose; the real port is printed. */
  readonly port: number
  /** Folder of the database; `:memory:` keeps nothing. */
  readonly dataDir: string
  /** Where samples are kept instead of the database; null for there. */
  readonly influx: InfluxSettings | null
  readonly logLevel: LogLevel
  /** Lets Prometheus read the metrics; null where nobody set one. */
  readonly metricsToken: string | null
  /** File with the owner's first password; null where there is none. */
  readonly ownerPasswordFile: string | null
  /** The built dashboard. */
  readonly dashboardDir: string
  readonly limits: Limits
}

export interface Limits {
  readonly uploadBytes: number
  /** An archive of a dog, packed. */
  readonly importBytes: number
  /** Longest time one archive may be read, its reports made anew where they must be. */
  readonly importMs: number
  readonly socketPayloadBytes: number
  /** Of a person, of a share link, of a paired phone; of all who are nobody at one address. */
  readonly requestsPerMinute: number
  /** How many times what one may have the people of one address may have together: a practice, a home. */
  readonly peoplePerAddress: number
  /** Addresses nothing lies at, per client: whoever looks for what may be there. */
  readonly unknownPerMinute: number
  readonly uploadsPerMinute: number
  readonly importsPerMinute: number
  /** Files made for a download: archives, traces, tables. */
  readonly exportsPerMinute: number
  readonly exportsAtOnce: number
  /** Of all clients together. */
  readonly connections: number
  readonly connectionsPerAddress: number
  /** Live sockets of one who asks; as `requestsPerMinute` counts them. */
  readonly socketsEach: number
  /** Longest time the headers of a request may take, and a TLS handshake. */
  readonly headersMs: number
  /** Longest time a body of JSON may take to arrive. */
  readonly bodyMs: number
  readonly uploadReceiveMs: number
  readonly importReceiveMs: number
  /** Uploads in memory at once, received and waiting for their analysis; one client may have half. */
  readonly uploadRoomBytes: number
  /** Archives received or waiting at once; one client may have half. */
  readonly importRoom: number
  /** Longest time one trace may be parsed and analysed. */
  readonly analysisMs: number
  readonly analysisHeapMb: number
  /** Appends of all streams share one transaction per this interval. */
  readonly commitMs: number
  /** Stored frames are acknowledged together after this long, many at once sooner. */
  readonly ackMs: number
  readonly heartbeatMs: number
  /** A sender that says nothing for this long is closed; it may reconnect. */
  readonly senderIdleMs: number
  /** A recording whose sender stays away this long is finished. */
  readonly abandonMs: number
  readonly framesPerS: number
  readonly frameBurst: number
  /** A viewer with more than this unsent gets nothing until it has caught up. */
  readonly viewerBufferBytes: number
  /** How long the link that lets a phone record a session works. */
  readonly pairingMs: number
  /** Attempts to redeem such a link, per address. */
  readonly redeemsPerMinute: number
  /** Attempts to sign in, per address. */
  readonly signInsPerMinute: number
}

export const DEFAULT_LIMITS: Limits = {
  uploadBytes: 64 * 1024 * 1024,
  importBytes: 8 * 1024 ** 3,
  importMs: 30 * 60_000,
  socketPayloadBytes: 64 * 1024,
  requestsPerMinute: 1200,
  peoplePerAddress: 5,
  unknownPerMinute: 120,
  uploadsPerMinute: 240,
  importsPerMinute: 30,
  exportsPerMinute: 240,
  exportsAtOnce: 8,
  connections: 4000,
  connectionsPerAddress: 400,
  socketsEach: 60,
  headersMs: 10_000,
  bodyMs: 30_000,
  uploadReceiveMs: 10 * 60_000,
  importReceiveMs: 60 * 60_000,
  uploadRoomBytes: 512 * 1024 * 1024,
  importRoom: 4,
  analysisMs: 60_000,
  analysisHeapMb: 1024,
  commitMs: 25,
  ackMs: 200,
  heartbeatMs: 10_000,
  senderIdleMs: 60_000,
  abandonMs: 10 * 60_000,
  framesPerS: 500,
  frameBurst: 1000,
  viewerBufferBytes: 64 * 1024,
  pairingMs: 10 * 60_000,
  redeemsPerMinute: 10,
  signInsPerMinute: 20,
}

export { ConfigError }

export interface Environment {
  readonly env: Readonly<Record<string, string | undefined>>
  readonly platform: string
  readonly homeDir?: string
  /** The option --behind-proxy; the environment can say the same. */
  readonly behindProxy?: boolean
}

const LOG_LEVELS: readonly string[] = ['fatal', 'error', 'warn', 'info', 'debug', 'trace', 'silent']

/**
 * The configuration the environment asks for, defaults filled in.
 * @throws {ConfigError} for a value that cannot be used
 */
export function loadConfig({ env, platform, homeDir = homedir(), behindProxy = false }: Environment): Config {
  return {
    ...exposureOf(env, behindProxy),
    port: portNumber(env.PORT || '4173'),
    dataDir: dataFolder({ env, platform, homeDir }),
    influx: loadSeriesSettings(env),
    logLevel: logLevel(env.LOG_LEVEL || 'warn'),
    metricsToken: metricsTokenFrom(env.SWAYBOOK_METRICS_TOKEN_FILE),
    ownerPasswordFile: env.SWAYBOOK_OWNER_PASSWORD_FILE || null,
    dashboardDir: builtDashboardDir(),
    limits: DEFAULT_LIMITS,
  }
}

/** The folder of the data that the environment asks for; `:memory:` for none. */
export function dataFolder({ env, platform, homeDir = homedir() }: Environment): string {
  if (!env.SWAYBOOK_DATA) return defaultDataDir(env, platform, homeDir)
  return env.SWAYBOOK_DATA === ':memory:' ? ':memory:' : resolve(env.SWAYBOOK_DATA)
}

function portNumber(text: string): number {
  const port = Number(text)
  if (/^\d+$/.test(text) && port <= 65535) return port
  throw new ConfigError(`PORT=${text} is not a port. Use a whole number from 0 to 65535 (0: any free port).`)
}

function logLevel(text: string): LogLevel {
  if (LOG_LEVELS.includes(text)) return text as LogLevel
  throw new ConfigError(`LOG_LEVEL=${text} is not known. Use one of ${LOG_LEVELS.join(', ')}.`)
}

/** Where each system keeps a person's application data (XDG Base Directory 0.8; platform guidelines). */
function defaultDataDir(env: Environment['env'], platform: string, homeDir: string): string {
  if (platform === 'darwin') return join(homeDir, 'Library', 'Application Support', 'swaybook')
  if (platform === 'win32') return join(env.APPDATA || join(homeDir, 'AppData', 'Roaming'), 'swaybook')
  return join(env.XDG_DATA_HOME || join(homeDir, '.local', 'share'), 'swaybook')
}

/** dist/dashboard, seen from server/ (source) or dist/server/ (compiled). */
function builtDashboardDir(): string {
  const fromHere = import.meta.url.endsWith('.ts') ? '../dist/dashboard/' : '../dashboard/'
  return fileURLToPath(new URL(fromHere, import.meta.url))
}
