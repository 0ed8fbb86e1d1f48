import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import { loadConfig } from '#server/config'
import { openStore } from '#server/store/open-store'
import type { RecordingAccount } from './client-messages.ts'
import { Comparison } from './compare.ts'
import type { SampleCount } from './compare.ts'
import { joined, lostRanges } from './sensor.ts'

export interface StoreCheck {
  readonly samples: readonly SampleCount[]
  readonly lostRanges: number
  readonly problems: readonly string[]
}

export interface StoreCheckInput {
  readonly dataFolder: string
  /** Settings of the server that say where its samples are. */
  readonly env: Readonly<Record<string, string>>
  readonly accounts: readonly RecordingAccount[]
}

/** Reads the store of a stopped server: samples by their index, losses, and the database itself. */
export async function checkStore({ dataFolder, env, accounts }: StoreCheckInput): Promise<StoreCheck> {
  const problems = integrityProblems(dataFolder)
  const samples: SampleCount[] = []
  let lost = 0
  const config = loadConfig({ env: { ...env, SWAYBOOK_DATA: dataFolder }, platform: process.platform })
  const store = await openStore(config, (error) => problems.push(`the store: ${String(error)}`))
  try {
    for (const { key, stream, acknowledged, total, finishedSamples } of accounts) {
      if (acknowledged === 0) continue
      const { nextIndex, complete } = await store.series.state(stream)
      // What a recording that did not end has beyond its last acknowledgement is neither owed nor wrong.
      const comparison = new Comparison(key, finishedSamples === null ? nextIndex : acknowledged)
      for await (const { firstIndex, count, values } of store.series.readSamples(
        stream,
        0,
        Number.MAX_SAFE_INTEGER,
      )) {
        for (let i = 0; i < count; i++) {
          comparison.atIndex(
            firstIndex + i,
            values.map((column) => column[i]),
          )
        }
      }
      samples.push(comparison.result())
      if (nextIndex < acknowledged)
        problems.push(`${stream}: ends at ${nextIndex}, acknowledged ${acknowledged}`)
      if (finishedSamples !== null && (nextIndex !== total || !complete)) {
        problems.push(`${stream}: ends at ${nextIndex} of ${total}${complete ? '' : ' and is not complete'}`)
      }
      const declared = lostRanges(key, nextIndex)
      const stored = joined(await store.series.lostRanges(stream))
      lost += stored.length
      if (JSON.stringify(stored) !== JSON.stringify(declared)) {
        problems.push(
          `${stream}: ${stored.length} lost ranges stored, ${declared.length} declared, or others`,
        )
      }
    }
  } finally {
    await store.close()
  }
  return { samples, lostRanges: lost, problems }
}

function integrityProblems(dataFolder: string): string[] {
  const database = new Sqlite(join(dataFolder, 'swaybook.sqlite'), { readonly: true })
  try {
    const integrity = database.pragma('integrity_check', { simple: true }) as string
    const foreignKeys = database.pragma('foreign_key_check') as unknown[]
    return [
      ...(integrity === 'ok' ? [] : [`the database: ${integrity}`]),
      ...(foreignKeys.length === 0 ? [] : [`the database: ${foreignKeys.length} rows point nowhere`]),
    ]
  } finally {
    database.close()
  }
}
