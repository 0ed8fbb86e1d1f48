import { InfluxDB } from '@influxdata/influxdb-client'
import type { SendOptions, Transport } from '@influxdata/influxdb-client'
import { InfluxError, influxErrorOf } from './influx-error.ts'
import { databaseOf } from './settings.ts'
import type { InfluxSettings, InfluxTarget } from './settings.ts'

/** Bodies from here on are packed. */
const GZIP_FROM_BYTES = 1000

/** A time range of one series, µs; `toUs` is not in it. */
export interface SeriesRange {
  readonly measurement: string
  readonly tags: Readonly<Record<string, string>>
  readonly fromUs: number
  readonly toUs: number
}

interface QueryAnswer {
  readonly error?: unknown
  readonly results?: readonly {
    readonly error?: unknown
    readonly series?: readonly {
      readonly columns: readonly string[]
      readonly values: readonly unknown[][]
    }[]
  }[]
}

/**
 * Requests to InfluxDB, each awaited by itself: the client's batching WriteApi drops what fails without telling whoever
 * wrote it, so only its transport is used. Nothing is tried twice here.
 */
export class InfluxServer {
  readonly #transport: Transport
  readonly #target: InfluxTarget
  readonly #database: string

  constructor({ url, target, timeoutMs }: InfluxSettings) {
    const client = new InfluxDB({ url, timeout: timeoutMs, ...credentials(target) })
    this.#transport = client.transport
    this.#target = target
    this.#database = databaseOf(target)
  }

  /**
   * Resolves once InfluxDB has taken all lines; times in them are µs.
   * @throws {InfluxError} some of them may be taken then
   */
  async write(lines: string): Promise<void> {
    const target = this.#target
    const path =
      target.api === 'v2'
        ? `/api/v2/write?${query({ org: target.org, bucket: target.bucket, precision: 'us' })}`
        : `/write?${query({ db: target.database, precision: 'u' })}`
    const headers = { 'content-type': 'text/plain; charset=utf-8' }
    const status = await this.#request(path, lines, {
      method: 'POST',
      headers,
      gzipThreshold: GZIP_FROM_BYTES,
    })
    if (status.code === 204) return
    const whatElse = 'is INFLUX_URL that of InfluxDB, with nothing before it that asks for a login?'
    throw new InfluxError(
      'away',
      `InfluxDB did not confirm a write (status ${status.code} instead of 204); ${whatElse}`,
    )
  }

  /** Rows of one SELECT on one series, times in µs. @throws {InfluxError} */
  async select(sql: string): Promise<readonly unknown[][]> {
    const path = `/query?${query({ db: this.#database, epoch: 'u', q: sql })}`
    return rowsOf((await this.#request(path, '', { method: 'GET' })).body)
  }

  /** Resolves once the points of the range are gone. @throws {InfluxError} */
  async delete({ measurement, tags, fromUs, toUs }: SeriesRange): Promise<void> {
    const target = this.#target
    if (target.api === 'v2') {
      const path = `/api/v2/delete?${query({ org: target.org, bucket: target.bucket })}`
      const wanted = Object.entries({ _measurement: measurement, ...tags })
      const body = {
        start: isoUs(fromUs),
        // Whether `stop` itself is deleted is not said anywhere: one µs before the end nothing lies.
        stop: isoUs(toUs - 1),
        predicate: wanted.map(([key, value]) => `${key}="${value}"`).join(' AND '),
      }
      await this.#request(path, JSON.stringify(body), {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
      })
      return
    }
    const wanted = Object.entries(tags).map(([key, value]) => `"${key}" = '${value}'`)
    const where = [...wanted, `time >= ${fromUs}u`, `time < ${toUs}u`].join(' AND ')
    const sql = `DELETE FROM "${measurement}" WHERE ${where}`
    const path = `/query?${query({ db: target.database })}`
    const headers = { 'content-type': 'application/x-www-form-urlencoded' }
    rowsOf((await this.#request(path, query({ q: sql }), { method: 'POST', headers })).body)
  }

  async #request(path: string, body: string, options: SendOptions): Promise<{ code: number; body: unknown }> {
    let code = 0
    const started = (_headers: unknown, statusCode = 0) => (code = statusCode)
    try {
      const answer: unknown = await this.#transport.request(path, body, options, started)
      return { code, body: answer }
    } catch (error) {
      throw influxErrorOf(error, this.#database)
    }
  }
}

function credentials(target: InfluxTarget) {
  if (target.api === 'v2') return { token: target.token }
  if (!target.login) return {}
  const { username, password } = target.login
  return { headers: { authorization: `Basic ${Buffer.from(`${username}:${password}`).toString('base64')}` } }
}

function query(parameters: Readonly<Record<string, string>>): string {
  return new URLSearchParams(parameters).toString()
}

/** What an answer with status 200 holds: its errors are inside. */
function rowsOf(answer: unknown): readonly unknown[][] {
  const { error, results } = (answer ?? {}) as QueryAnswer
  const failed = [error, ...(results ?? []).map((result) => result.error)].find((text) => text !== undefined)
  if (failed !== undefined) {
    const text = String(failed)
    const isMissing = /database not found|not authorized|authorization failed/.test(text)
    throw new InfluxError(isMissing ? 'denied' : 'away', `InfluxDB could not answer: ${text.slice(0, 300)}`)
  }
  if (!results) {
    throw new InfluxError(
      'away',
      'InfluxDB gave an answer that is no result; is INFLUX_URL that of InfluxDB?',
    )
  }
  return results.flatMap(({ series = [] }) => series.flatMap((part) => part.values))
}

/** RFC 3339 with microseconds. */
function isoUs(us: number): string {
  const micros = ((us % 1_000_000) + 1_000_000) % 1_000_000
  return `${new Date((us - micros) / 1000).toISOString().slice(0, 19)}.${String(micros).padStart(6, '0')}Z`
}
