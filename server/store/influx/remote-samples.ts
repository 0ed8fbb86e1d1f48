import { CorruptBlockError } from '../time-series.ts'
import type { SampleBlock } from '../time-series.ts'
import { InfluxError } from './influx-error.ts'
import type { InfluxServer } from './influx-server.ts'
import { sampleLines } from './line-protocol.ts'
import { indexAt, MEASUREMENT, tagsOf, timeUs } from './place.ts'
import type { Place } from './place.ts'
import { rowChecksum } from './row-checksum.ts'

/** InfluxDB's advice for one request. */
const MAX_LINES = 5000

/** What is known of a block that InfluxDB holds. */
export interface RemoteBlock {
  readonly firstIndex: number
  readonly count: number
  readonly dtype: 'float32' | 'float64'
  /** See row-checksum.ts. */
  readonly crc32: number
}

export interface RemoteStream {
  readonly id: string
  readonly columns: readonly string[]
  readonly place: Place
}

/** Blocks of samples into InfluxDB and back, exactly. */
export class RemoteSamples {
  readonly #server: InfluxServer
  #maxLines = MAX_LINES

  constructor(server: InfluxServer) {
    this.#server = server
  }

  /** Resolves when InfluxDB answers questions about samples. @throws {InfluxError} */
  async probe(): Promise<void> {
    await this.#server.select(`SELECT * FROM "${MEASUREMENT}" WHERE time = 0`)
  }

  /** Resolves once InfluxDB has all of it; as few requests as it takes. @throws {InfluxError} some may be there then */
  async write(
    blocks: readonly { readonly stream: RemoteStream; readonly block: SampleBlock }[],
  ): Promise<void> {
    const lines = blocks.flatMap(({ stream, block }) =>
      sampleLines(stream.place, stream.columns, block.firstIndex, block),
    )
    for (let from = 0; from < lines.length;) {
      const part = lines.slice(from, from + this.#maxLines)
      if (await this.#fits(part)) from += part.length
    }
  }

  /** False when the server wants shorter requests: it gets them from now on. */
  async #fits(lines: readonly string[]): Promise<boolean> {
    try {
      await this.#server.write(lines.join('\n'))
      return true
    } catch (error) {
      if (!(error instanceof InfluxError) || error.failure !== 'too large') throw error
      if (lines.length === 1) throw new InfluxError('rejected', error.message, { cause: error })
      this.#maxLines = Math.ceil(lines.length / 2)
      return false
    }
  }

  /**
   * The samples of blocks that follow on one another, with nothing else between. With `leaveOut` blocks that are
   * not as they were stored are told to it and left out.
   * @throws {CorruptBlockError} when InfluxDB gives others, or fewer, than were stored
   */
  async read(
    { id, columns, place }: RemoteStream,
    blocks: readonly RemoteBlock[],
    leaveOut?: (damage: CorruptBlockError) => void,
  ): Promise<SampleBlock[]> {
    if (blocks.length === 0) return []
    const last = blocks[blocks.length - 1]
    const fields = columns.map((name) => `"${name.replace(/["\\]/g, '\\$&')}"`).join(', ')
    const where = [
      ...Object.entries(tagsOf(place)).map(([key, value]) => `"${key}" = '${value}'`),
      `time >= ${timeUs(place, blocks[0].firstIndex)}u`,
      `time <= ${timeUs(place, last.firstIndex + last.count - 1)}u`,
    ].join(' AND ')
    const rows = await this.#server.select(`SELECT ${fields} FROM "${MEASUREMENT}" WHERE ${where}`)
    let at = 0
    return blocks.flatMap((block) => {
      // What lies between blocks was written once and never confirmed.
      while (at < rows.length && indexOf(place, rows[at]) < block.firstIndex) at++
      let end = at
      while (end < rows.length && indexOf(place, rows[end]) < block.firstIndex + block.count) end++
      const own = rows.slice(at, end)
      at = end
      try {
        return [restored(id, place, columns.length, block, own)]
      } catch (error) {
        if (!leaveOut || !(error instanceof CorruptBlockError)) throw error
        leaveOut(error)
        return []
      }
    })
  }
}

function restored(
  stream: string,
  place: Place,
  columnCount: number,
  block: RemoteBlock,
  rows: readonly unknown[][],
): SampleBlock {
  const { firstIndex, count, dtype } = block
  const isWhole =
    rows.length === count && rows.every((row, i) => isSampleRow(row, place, firstIndex + i, columnCount))
  if (!isWhole) throw corrupt(stream, block, 'are not all there')
  const values = Array.from({ length: columnCount }, (_, c) => {
    const column = dtype === 'float32' ? new Float32Array(count) : new Float64Array(count)
    for (let i = 0; i < count; i++) column[i] = rows[i][c + 1] as number
    return column
  })
  const samples = { dtype, values, firstIndex, count }
  if (rowChecksum(samples) !== block.crc32) throw corrupt(stream, block, 'are not those that were stored')
  return samples
}

function indexOf(place: Place, row: readonly unknown[]): number {
  return indexAt(place, row[0] as number)
}

function isSampleRow(row: readonly unknown[], place: Place, index: number, columnCount: number): boolean {
  return (
    row[0] === timeUs(place, index) &&
    row.length === columnCount + 1 &&
    row.every((value) => typeof value === 'number')
  )
}

function corrupt(stream: string, { firstIndex, count }: RemoteBlock, what: string): CorruptBlockError {
  return new CorruptBlockError(
    stream,
    { firstIndex, count },
    `samples ${firstIndex} to ${firstIndex + count - 1} of stream ${stream} ${what} in InfluxDB; check that INFLUX_URL ` +
      'and the database are the ones that were written to, or restore it from a backup',
  )
}
