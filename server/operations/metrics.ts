import { collectDefaultMetrics, Counter, Gauge, Histogram, Registry } from 'prom-client'
import { ANALYSIS_VERSION } from '#signal/constants'
import type { IngestMeter } from '../ingest/meter.ts'
import { SOFTWARE_VERSION } from '../software-version.ts'
import type { StorageCondition } from './storage-condition.ts'

/** What gauges ask when they are read. */
export interface MetricSources {
  readonly condition: StorageCondition
  readonly analyses: () => { readonly running: number; readonly waiting: number }
  readonly series: () => {
    readonly state: 'ok' | 'spilling' | 'catching up'
    readonly waitingBlocks: number
    readonly refusedStreams: number
    readonly pendingDeletions: number
  }
  readonly isReady: () => Promise<boolean>
  /** Of the database and its log, bytes; null where it is in memory. */
  readonly databaseBytes: () => { readonly database: number; readonly log: number } | null
}

/** Close codes the server or RFC 6455 knows; others would let clients make labels up. */
const CLOSE_CODES = new Set([
  1000, 1001, 1002, 1003, 1005, 1006, 1007, 1008, 1009, 1011, 1013, 4401, 4403, 4409,
])

const COMMIT_BUCKETS_S = [0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10]
const REQUEST_BUCKETS_S = [0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30]

/**
 * Prometheus metrics of one server. Names follow "Metric and label naming" of the Prometheus documentation: a prefix,
 * base units as suffix, `_total` for counters. Labels have few values; ids, names and addresses are none.
 */
export class Metrics implements IngestMeter {
  readonly #registry = new Registry()
  readonly #received = this.#counter(
    'swaybook_samples_received_total',
    'Samples taken from senders, repeated ones not counted.',
  )
  readonly #stored = this.#counter(
    'swaybook_samples_stored_total',
    'Samples made durable, which is what is acknowledged to senders.',
  )
  readonly #lost = this.#counter(
    'swaybook_samples_lost_total',
    'Samples that senders declared lost: they never reached them.',
  )
  readonly #commits = new Histogram({
    name: 'swaybook_commit_duration_seconds',
    help: 'Time from giving samples or a declared loss to the store until they are durable.',
    buckets: COMMIT_BUCKETS_S,
    registers: [this.#registry],
  })
  readonly #failures = this.#counter(
    'swaybook_store_failures_total',
    'Appends of samples that the store did not take; senders keep and repeat them.',
  )
  readonly #damaged = this.#counter(
    'swaybook_damaged_blocks_total',
    'Damaged blocks of stored samples met since the start, each counted once.',
  )
  readonly #sockets = new Gauge({
    name: 'swaybook_sockets',
    help: 'Live sockets that are open: of senders, which record, and of viewers, which watch.',
    labelNames: ['role'],
    registers: [this.#registry],
  })
  readonly #closed = new Counter({
    name: 'swaybook_sockets_closed_total',
    help: 'Live sockets closed, by close code (RFC 6455 section 7.4, server/README.md); "other" for codes nobody defined.',
    labelNames: ['role', 'code'],
    registers: [this.#registry],
  })
  readonly #requests = new Histogram({
    name: 'swaybook_http_request_duration_seconds',
    help: 'Time to answer HTTP requests, by route pattern and status; "none" for addresses without a route.',
    labelNames: ['method', 'route', 'status_code'],
    buckets: REQUEST_BUCKETS_S,
    registers: [this.#registry],
  })
  readonly #refused = new Counter({
    name: 'swaybook_auth_failures_total',
    help: 'Requests refused because of who asks (status 401 or 403), by error code (server/errors.ts).',
    labelNames: ['code'],
    registers: [this.#registry],
  })

  constructor(sources: MetricSources) {
    const { condition, analyses, series, isReady, databaseBytes } = sources
    new Gauge({
      name: 'swaybook_build_info',
      help: 'Always 1; the labels say which version runs and which analysis makes its numbers.',
      labelNames: ['version', 'analysis_version'],
      registers: [this.#registry],
    }).set({ version: SOFTWARE_VERSION, analysis_version: ANALYSIS_VERSION }, 1)
    for (const role of ['sender', 'viewer']) this.#sockets.set({ role }, 0)
    this.#asked('swaybook_ready', '1 while /api/ready says yes, otherwise 0.', async () =>
      (await isReady()) ? 1 : 0,
    )
    this.#asked(
      'swaybook_store_writable',
      '1 while the data folder takes writes, 0 while its disk is full, read-only or failing.',
      () => (condition.problem ? 0 : 1),
    )
    this.#asked(
      'swaybook_data_disk_free_bytes',
      'Room left for this account on the disk of the data folder.',
      async () => (await condition.room())?.freeBytes,
    )
    this.#asked(
      'swaybook_data_disk_size_bytes',
      'Size of the disk of the data folder.',
      async () => (await condition.room())?.sizeBytes,
    )
    this.#asked('swaybook_database_bytes', 'Size of the database file.', () => databaseBytes()?.database)
    this.#asked(
      'swaybook_database_log_bytes',
      'Size of the write-ahead log beside the database.',
      () => databaseBytes()?.log,
    )
    this.#asked(
      'swaybook_analyses_running',
      'Traces being parsed, analysed or written in worker threads.',
      () => analyses().running,
    )
    this.#asked('swaybook_analyses_waiting', 'Traces waiting for a worker thread.', () => analyses().waiting)
    this.#asked(
      'swaybook_series_spilling',
      '1 while samples are kept in the embedded store because InfluxDB takes none or has not caught up.',
      () => (series().state === 'ok' ? 0 : 1),
    )
    this.#asked(
      'swaybook_series_waiting_blocks',
      'Blocks of samples in the embedded store that InfluxDB does not have yet.',
      () => series().waitingBlocks,
    )
    this.#asked(
      'swaybook_series_refused_streams',
      'Streams whose samples InfluxDB refused; they stay in the embedded store.',
      () => series().refusedStreams,
    )
    this.#asked(
      'swaybook_series_pending_deletions',
      'Deletions that InfluxDB has not confirmed yet.',
      () => series().pendingDeletions,
    )
  }

  received(samples: number): void {
    this.#received.inc(samples)
  }

  lost(samples: number): void {
    this.#lost.inc(samples)
  }

  stored(samples: number, seconds: number): void {
    this.#stored.inc(samples)
    this.#commits.observe(seconds)
  }

  failed(): void {
    this.#failures.inc()
  }

  damaged(): void {
    this.#damaged.inc()
  }

  socketOpened(role: 'sender' | 'viewer'): void {
    this.#sockets.inc({ role })
  }

  socketClosed(role: 'sender' | 'viewer', code: number): void {
    this.#sockets.dec({ role })
    this.#closed.inc({ role, code: CLOSE_CODES.has(code) ? String(code) : 'other' })
  }

  answered(request: { method: string; route: string | undefined; status: number; seconds: number }): void {
    const { method, route = 'none', status, seconds } = request
    this.#requests.observe({ method, route, status_code: String(status) }, seconds)
  }

  refused(code: string): void {
    this.#refused.inc({ code })
  }

  get contentType(): string {
    return this.#registry.contentType
  }

  /** The text format, with what Node says of the process itself. */
  async text(): Promise<string> {
    return `${await this.#registry.metrics()}\n${await processRegistry().metrics()}`
  }

  /** Name and help of every metric. */
  async list(): Promise<{ name: string; help: string; type: string }[]> {
    const all = [
      ...(await this.#registry.getMetricsAsJSON()),
      ...(await processRegistry().getMetricsAsJSON()),
    ]
    return all.map(({ name, help, type }) => ({ name, help, type: String(type) }))
  }

  #counter(name: string, help: string): Counter {
    return new Counter({ name, help, registers: [this.#registry] })
  }

  /** A gauge that is left out where there is nothing to tell. */
  #asked(name: string, help: string, value: () => number | undefined | Promise<number | undefined>): void {
    const gauge: Gauge = new Gauge({
      name,
      help,
      registers: [this.#registry],
      async collect() {
        gauge.reset()
        const now = await value()
        if (now === undefined) gauge.remove()
        else gauge.set(now)
      },
    })
  }
}

let ofProcess: Registry | null = null

/** Memory, processor, event loop and garbage collection belong to the process, however many apps it holds. */
function processRegistry(): Registry {
  if (!ofProcess) {
    ofProcess = new Registry()
    collectDefaultMetrics({ register: ofProcess })
  }
  return ofProcess
}
