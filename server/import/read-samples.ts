import type { StreamFile } from '../export/archive-files.ts'
import type { Arrival, SampleBlock } from '../store/time-series.ts'
import { ArchiveError, EXPORT_AGAIN } from './archive-error.ts'
import { linesOf } from './read-lines.ts'

/** As the store makes them. */
const BLOCK_SAMPLES = 4096
const ROW = /^\d+(?:,-?\d+(?:\.\d+)?(?:e[+-]\d+)?)+$/

/**
 * The samples of samples.csv in blocks without holes. Every index below `nextIndex` must be there once, in
 * order, unless it was lost; every value must be finite and exactly a float of the stated kind; times of an
 * uploaded trace must ascend.
 * @throws {ArchiveError} naming the line
 */
export async function* readSamples(
  bytes: AsyncIterable<Buffer>,
  stream: StreamFile,
  file: string,
): AsyncGenerator<SampleBlock> {
  const { columns, dtype, nextIndex } = stream
  const width = columns.length
  const isTimed = columns[0] === 't'
  const runs = storedRuns(stream)
  const refuse = (line: number, reason: string) =>
    new ArchiveError('ARCHIVE_SAMPLES_INVALID', `${file}, line ${line}: ${reason}.`, {
      file,
      line,
      remedy: EXPORT_AGAIN,
    })
  const newColumns = (count: number) =>
    columns.map(() => (dtype === 'float32' ? new Float32Array(count) : new Float64Array(count)))

  let line = 0
  let run = runs.next().value
  let at = run?.from ?? nextIndex
  let block = { firstIndex: at, count: 0, values: newColumns(0), size: 0 }
  let lastS = -Infinity
  for await (const lines of linesOf(bytes, file)) {
    for (const text of lines) {
      line++
      if (line === 1) {
        const header = `index,${columns.join(',')}`
        if (text !== header) throw refuse(1, `the header is not ${header}`)
        continue
      }
      if (!ROW.test(text)) throw refuse(line, 'this is not a row of numbers')
      const cells = text.split(',')
      if (cells.length !== width + 1) throw refuse(line, `${width + 1} numbers belong here`)
      if (!run) throw refuse(line, 'stream.json says that there is nothing more')
      if (Number(cells[0]) !== at) throw refuse(line, `sample ${at} belongs here, not ${cells[0]}`)
      if (block.count === block.size) {
        const size = Math.min(BLOCK_SAMPLES, run.to - at)
        block = { firstIndex: at, count: 0, values: newColumns(size), size }
      }
      for (let c = 0; c < width; c++) {
        const value = Number(cells[c + 1])
        block.values[c][block.count] = value
        if (!Number.isFinite(block.values[c][block.count])) throw refuse(line, `${columns[c]} is not finite`)
      }
      if (isTimed) {
        const timeS = block.values[0][block.count]
        if (timeS <= lastS) throw refuse(line, 'the time does not ascend')
        lastS = timeS
      }
      block.count++
      at++
      if (block.count === block.size) {
        yield { dtype, values: block.values, firstIndex: block.firstIndex, count: block.count }
      }
      if (at === run.to) {
        run = runs.next().value
        at = run?.from ?? nextIndex
      }
    }
  }
  if (line === 0) throw refuse(1, 'the header is missing')
  if (run) throw refuse(line, `sample ${at} and what follows are missing`)
}

/** Ranges of indices that are not lost, ascending. */
function* storedRuns({ nextIndex, lost }: StreamFile): Generator<{ from: number; to: number }, undefined> {
  let from = 0
  for (const { firstIndex, count } of lost) {
    if (firstIndex > from) yield { from, to: firstIndex }
    from = firstIndex + count
  }
  if (from < nextIndex) yield { from, to: nextIndex }
}

/** @throws {ArchiveError} when lost ranges overlap, are out of order, or reach beyond the end */
export function checkLost({ nextIndex, lost }: StreamFile, file: string): void {
  let reached = 0
  for (const { firstIndex, count } of lost) {
    if (firstIndex < reached || firstIndex + count > nextIndex) {
      throw new ArchiveError(
        'ARCHIVE_CONTENT_INVALID',
        `${file}: lost samples overlap or reach beyond the end.`,
        { file, remedy: EXPORT_AGAIN },
      )
    }
    reached = firstIndex + count
  }
}

/**
 * The arrival of packets from arrivals.csv, ascending in index.
 * @throws {ArchiveError} naming the line
 */
export async function readArrivals(
  bytes: AsyncIterable<Buffer>,
  { nextIndex }: StreamFile,
  file: string,
): Promise<Arrival[]> {
  const arrivals: Arrival[] = []
  let line = 0
  let last = -1
  for await (const lines of linesOf(bytes, file)) {
    for (const text of lines) {
      line++
      const [index, arrivedAtUs] = text.split(',').map(Number)
      const ok = line === 1 ? text === 'index,arrivedAtUs' : ROW.test(text) && text.split(',').length === 2
      if (!ok || (line > 1 && (index <= last || index >= nextIndex || !Number.isFinite(arrivedAtUs)))) {
        throw new ArchiveError('ARCHIVE_SAMPLES_INVALID', `${file}, line ${line}: no arrival in order.`, {
          file,
          line,
          remedy: EXPORT_AGAIN,
        })
      }
      if (line === 1) continue
      last = index
      arrivals.push({ index, arrivedAtUs })
    }
  }
  return arrivals
}
