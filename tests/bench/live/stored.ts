import { openSqliteStore } from '#server/store/sqlite/store'
import { parseTrace } from '#signal/trace/parse'
import { CHANNELS, truth } from './waveform.ts'

export interface StoredCount {
  /** Samples that are stored as they were sent, once. */
  readonly exact: number
  /** Sent and not stored. */
  readonly lost: number
  /** Stored more than once, or never sent. */
  readonly surplus: number
  /** Stored with other values than were sent. */
  readonly changed: number
}

/** Compares everything in the data folder of a stopped server with what was sent. */
export async function countStored(dataFolder: string, sentSamples: readonly number[]): Promise<StoredCount> {
  const store = await openSqliteStore(dataFolder, 1)
  let [exact, lost, surplus, changed] = [0, 0, 0, 0]
  try {
    for (const [stream, sent] of sentSamples.entries()) {
      const seen = new Uint8Array(sent)
      for await (const block of store.series.readSamples(`bench-${stream}`, 0, Number.MAX_SAFE_INTEGER)) {
        for (let i = 0; i < block.count; i++) {
          const index = block.firstIndex + i
          if (index >= sent || seen[index]) {
            surplus++
            continue
          }
          seen[index] = 1
          if (block.values.every((column, c) => column[i] === truth(stream, c, index))) exact++
          else changed++
        }
      }
      for (const one of seen) if (!one) lost++
    }
  } finally {
    await store.close()
  }
  return { exact, lost, surplus, changed }
}

/** What the API gives of a finished session, against what was sent: the first difference, or null. */
export async function differenceThroughApi(
  url: string,
  session: string,
  stream: number,
  sent: number,
): Promise<string | null> {
  const response = await fetch(`${url}/api/sessions/${session}/trace.csv`)
  if (!response.ok) return `stream ${stream}: the API answered ${response.status}`
  const { trace } = parseTrace(await response.text())
  const { acc, gyr } = trace
  if (!gyr) return `stream ${stream}: no angular rate`
  const columns = [acc.x, acc.y, acc.z, gyr.x, gyr.y, gyr.z]
  if (trace.t.length !== sent) return `stream ${stream}: ${trace.t.length} samples of ${sent}`
  for (let index = 0; index < sent; index++) {
    for (let c = 0; c < CHANNELS; c++) {
      if (columns[c][index] !== truth(stream, c, index)) return `stream ${stream}: sample ${index} differs`
    }
  }
  return null
}
