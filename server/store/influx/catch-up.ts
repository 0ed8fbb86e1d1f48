import { decodeBlock } from '../sqlite/block-codec.ts'
import type { SampleWriter } from '../sqlite/sample-writer.ts'
import type { SampleBlocksTable } from '../sqlite/schema.ts'
import { CorruptBlockError } from '../time-series.ts'
import type { SampleBlock } from '../time-series.ts'
import type { Availability } from './availability.ts'
import type { Deletions } from './deletions.ts'
import { InfluxError } from './influx-error.ts'
import { isStorableColumns } from './line-protocol.ts'
import type { Places } from './places.ts'
import type { RemoteSamples, RemoteStream } from './remote-samples.ts'
import { rowChecksum } from './row-checksum.ts'
import type { Turns } from './turns.ts'
import type { WaitingBlocks } from './waiting-blocks.ts'

export interface CatchUpParts {
  readonly waiting: WaitingBlocks
  readonly places: Places
  readonly deletions: Deletions
  readonly remote: RemoteSamples
  readonly embedded: SampleWriter
  readonly turns: Turns
  /** Told what went wrong where nobody waits for it. */
  readonly onProblem: (error: unknown) => void
}

interface Waiter {
  readonly isDone: () => boolean
  readonly resolve: () => void
}

/**
 * Brings what waits in the embedded store to InfluxDB, one stream's next blocks at a time: written, read back, compared,
 * and only then given up here, in one transaction. Each block is in exactly one of the two stores at every moment, so
 * new samples may go to InfluxDB directly meanwhile. The same steps probe whether InfluxDB is back.
 */
export class CatchUp {
  readonly #parts: CatchUpParts
  readonly #availability: () => Availability
  #running: Promise<void> | null = null
  #again = false
  #closed = false
  #waiters: Waiter[] = []

  constructor(parts: CatchUpParts, availability: () => Availability) {
    this.#parts = parts
    this.#availability = availability
  }

  /** Begins, or looks again once it is through. */
  wake(): void {
    if (this.#closed) return
    this.#again = true
    this.#running ??= this.#run().finally(() => {
      this.#running = null
      // Asked for between the last look and now.
      if (this.#again) this.wake()
    })
  }

  /** Resolves when nothing of the stream waits, or what waits must go on waiting. */
  moved(stream: string): Promise<void> {
    const { waiting } = this.#parts
    return this.#until(() => !waiting.has(stream) || waiting.isRefused(stream))
  }

  /** Resolves when nothing is left to delete, or it must go on waiting. */
  deleted(): Promise<void> {
    return this.#until(() => this.#parts.deletions.pending === 0)
  }

  /** Resolves when nothing waits at all, or what waits must go on waiting. */
  idle(): Promise<void> {
    return this.#until(() => this.#parts.waiting.count === 0 && this.#parts.deletions.pending === 0)
  }

  async close(): Promise<void> {
    this.#closed = true
    this.#again = false
    await this.#running
    this.#settle()
  }

  #until(isDone: () => boolean): Promise<void> {
    return new Promise((resolve) => {
      this.#waiters.push({ isDone, resolve })
      this.wake()
      if (this.#closed) this.#settle()
    })
  }

  async #run(): Promise<void> {
    while (this.#again && !this.#closed) {
      this.#again = false
      while (!this.#closed && (await this.#parts.turns.take(() => this.#step()))) this.#settle(false)
      this.#settle()
    }
  }

  /** Whether there may be more to do now. */
  async #step(): Promise<boolean> {
    const { deletions, waiting, onProblem } = this.#parts
    const availability = this.#availability()
    try {
      await deletions.carryOut()
      const work = waiting.next()
      if (work) await this.#move(work.stream, work.columns, work.rows)
      // Nothing to send would not tell whether it answers again.
      else if (availability.isOut) await this.#parts.remote.probe()
      availability.recovered()
      return work !== null
    } catch (error) {
      if (!(error instanceof InfluxError)) onProblem(error)
      const known = error instanceof InfluxError
      availability.failed(known ? error : new InfluxError('away', 'Catching up failed; see the log.'))
      return false
    }
  }

  /** @throws {InfluxError} unless it is the stream's own fault */
  async #move(stream: string, columns: string[], rows: readonly SampleBlocksTable[]): Promise<void> {
    const { places, waiting } = this.#parts
    try {
      const blocks = rows.map((row) =>
        decodeBlock({ ...row, firstIndex: row.first_index }, columns.length, stream),
      )
      if (!blocks.every(isStorableColumns)) return waiting.refuse(stream, NOT_FINITE)
      const last = blocks[blocks.length - 1]
      const place = places.reserve(stream, last.firstIndex + last.count)
      if (place === null) return
      if (typeof place === 'string') return waiting.refuse(stream, place)
      await this.#bring({ id: stream, columns, place }, blocks, rows)
    } catch (error) {
      const isOwnFault =
        error instanceof CorruptBlockError || (error instanceof InfluxError && error.failure === 'rejected')
      if (!isOwnFault) throw error
      waiting.refuse(stream, error.message)
      this.#parts.onProblem(error)
    }
  }

  async #bring(
    stream: RemoteStream,
    blocks: readonly SampleBlock[],
    rows: readonly SampleBlocksTable[],
  ): Promise<void> {
    const { remote, embedded } = this.#parts
    await remote.write(blocks.map((block) => ({ stream, block })))
    const known = blocks.map((block) => ({ ...block, crc32: rowChecksum(block) }))
    // What lies between may be long there already: each run that follows on is read back by itself.
    for (const run of runsOf(known)) await remote.read(stream, run)
    await embedded.replaceBlocks(
      stream.id,
      rows.map(({ first_index, count, encoding, crc32 }, i) => ({
        firstIndex: first_index,
        count,
        was: { encoding, crc32 },
        now: { encoding: 'influx', columns: Buffer.alloc(0), crc32: known[i].crc32 },
      })),
    )
  }

  /** Tells whoever waits for what is done; all of them when no more will be done now. */
  #settle(all = true): void {
    const isStuck = all && (this.#closed || this.#availability().isOut)
    const [done, left] = [[] as Waiter[], [] as Waiter[]]
    for (const waiter of this.#waiters) (isStuck || waiter.isDone() ? done : left).push(waiter)
    this.#waiters = left
    for (const { resolve } of done) resolve()
  }
}

const NOT_FINITE = 'it holds values that are no finite numbers, which InfluxDB cannot keep'

function runsOf<Block extends { firstIndex: number; count: number }>(blocks: readonly Block[]): Block[][] {
  const runs: Block[][] = []
  for (const block of blocks) {
    const last = runs.at(-1)?.at(-1)
    if (last && last.firstIndex + last.count === block.firstIndex) runs.at(-1)!.push(block)
    else runs.push([block])
  }
  return runs
}
