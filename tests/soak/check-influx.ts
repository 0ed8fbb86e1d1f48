import { setTimeout as sleep } from 'node:timers/promises'
import { CHANNELS, RATE_HZ } from '../bench/live/waveform.ts'
import type { RecordingAccount } from './client-messages.ts'
import { Comparison } from './compare.ts'
import type { SampleCount } from './compare.ts'
import { INFLUX_DATABASE } from './influxd.ts'
import type { Influxd } from './influxd.ts'
import { lostRanges } from './sensor.ts'

const PERIOD_US = 1e6 / RATE_HZ
const COLUMNS = ['ax', 'ay', 'az', 'gx', 'gy', 'gz'] as const
/** What waited for InfluxDB while it was away must have reached it by then, ms. */
const CATCH_UP_MS = 900_000
const ASK_EVERY_MS = 1000

export interface InfluxCheck {
  readonly samples: readonly SampleCount[]
  readonly problems: readonly string[]
}

/**
 * Asks InfluxDB itself, in InfluxQL over HTTP, for every sample of every recording: one dog records one session at a
 * time, so the dog and the times of a recording find its samples and no others.
 */
export async function checkInflux(
  influxd: Influxd,
  accounts: readonly RecordingAccount[],
): Promise<InfluxCheck> {
  const problems: string[] = []
  const expected = accounts.reduce((sum, { key, acknowledged }) => {
    const lost = lostRanges(key, acknowledged).reduce((all, { count }) => all + count, 0)
    return sum + acknowledged - lost
  }, 0)
  const there = await samplesThere(influxd, expected)
  if (there !== expected) problems.push(`InfluxDB holds ${there} samples, ${expected} were acknowledged`)
  const samples: SampleCount[] = []
  for (const { key, dogId, startedAtUs, acknowledged, session } of accounts) {
    const comparison = new Comparison(key, acknowledged)
    const range = `time >= ${startedAtUs}u AND time < ${startedAtUs + acknowledged * PERIOD_US}u`
    const sql = `SELECT ${COLUMNS.join(', ')} FROM samples WHERE dog = '${dogId}' AND ${range}`
    const rows = await select(influxd, sql)
    for (const [us, ...values] of rows) {
      if (values.length !== CHANNELS) throw new Error(`${session}: InfluxDB gives ${values.length} columns`)
      comparison.atIndex((us - startedAtUs) / PERIOD_US, values)
    }
    samples.push(comparison.result())
  }
  return { samples, problems }
}

/** How many samples InfluxDB holds in the end: what waited for it may still be on its way. */
async function samplesThere(influxd: Influxd, expected: number): Promise<number> {
  for (const untilMs = performance.now() + CATCH_UP_MS; ; await sleep(ASK_EVERY_MS)) {
    const [row] = await select(influxd, 'SELECT count(ax) FROM samples')
    const count = row?.[1] ?? 0
    if (count >= expected || performance.now() > untilMs) return count
  }
}

/** Rows of one SELECT, times in µs. An answer with status 200 may hold an error. */
async function select(influxd: Influxd, sql: string): Promise<number[][]> {
  const query = new URLSearchParams({ db: INFLUX_DATABASE, epoch: 'u', q: sql })
  const response = await fetch(`${influxd.url}/query?${query}`)
  const { results, error } = (await response.json()) as {
    results?: { error?: string; series?: { values: number[][] }[] }[]
    error?: string
  }
  const failure = error ?? results?.find((result) => result.error)?.error
  if (!response.ok || failure) throw new Error(`InfluxDB answered ${response.status}: ${failure}`)
  return results?.flatMap(({ series = [] }) => series.flatMap(({ values }) => values)) ?? []
}
