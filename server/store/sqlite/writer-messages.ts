import { CorruptBlockError, StreamGapError, StreamMissingError } from '../time-series.ts'
import type { IndexRange, SampleColumns } from '../time-series.ts'
import type { BlockReplacement, RemoteSamplesRow } from './sample-writer.ts'

/** One write on its way to the writing thread; samples lie in the bytes of their batch. */
export type Write =
  | {
      readonly kind: 'samples'
      readonly stream: string
      readonly firstIndex: number
      readonly dtype: SampleColumns['dtype']
      readonly columns: number
      readonly count: number
      readonly offset: number
      readonly arrivedAtUs: number | null
    }
  | { readonly kind: 'lost'; readonly stream: string; readonly firstIndex: number; readonly count: number }
  | { readonly kind: 'remote'; readonly stream: string; readonly row: RemoteSamplesRow }
  | { readonly kind: 'replace'; readonly stream: string; readonly blocks: readonly BlockReplacement[] }

export type ToThread =
  | { readonly kind: 'open'; readonly dataDir: string; readonly commitMs: number }
  | { readonly kind: 'batch'; readonly writes: readonly Write[]; readonly bytes: ArrayBuffer }
  | { readonly kind: 'compact'; readonly id: number; readonly stream: string }
  | { readonly kind: 'close' }

/** How one write ended: the stream's next index, or how many blocks were replaced, or why not. */
export type Outcome = number | Failure

export type FromThread =
  | { readonly kind: 'batch'; readonly outcomes: readonly Outcome[] }
  | { readonly kind: 'compacted'; readonly id: number; readonly failure: Failure | null }
  | { readonly kind: 'problem'; readonly failure: Failure }
  | { readonly kind: 'closed' }

/** An error as it crosses between threads: classes do not. */
export interface Failure {
  readonly name: string
  readonly message: string
  readonly stack: string | undefined
  readonly code: string | undefined
  readonly stream: string
  readonly missingIndex: number
  readonly damaged: IndexRange | null
}

export function failureOf(error: unknown, stream = ''): Failure {
  const { name, message, stack, code } = error as Error & { code?: string }
  const missingIndex = error instanceof StreamGapError ? error.missingIndex : -1
  const damaged = error instanceof CorruptBlockError ? error.range : null
  const of = error instanceof CorruptBlockError ? error.stream : stream
  return { name, message, stack, code, stream: of, missingIndex, damaged }
}

export function errorOf({ name, message, stack, code, stream, missingIndex, damaged }: Failure): Error {
  if (name === 'StreamGapError') return new StreamGapError(stream, missingIndex)
  if (name === 'StreamMissingError') return new StreamMissingError(message)
  if (damaged) return new CorruptBlockError(stream, damaged, message)
  return Object.assign(new Error(message), { name, stack, ...(code !== undefined && { code }) })
}

const widthOf = (dtype: SampleColumns['dtype']) => (dtype === 'float32' ? 4 : 8)

/** Bytes that `packColumns` needs, rounded up so that what follows is aligned. */
export function packedBytes({ dtype, values }: SampleColumns): number {
  return Math.ceil((widthOf(dtype) * values.length * values[0].length) / 8) * 8
}

export function packColumns({ values }: SampleColumns, bytes: Uint8Array, offset: number): void {
  for (const column of values) {
    bytes.set(new Uint8Array(column.buffer, column.byteOffset, column.byteLength), offset)
    offset += column.byteLength
  }
}

export function unpackColumns(write: Write & { kind: 'samples' }, bytes: ArrayBuffer): SampleColumns {
  const { dtype, columns, count, offset } = write
  const values = Array.from({ length: columns }, (_, c) => {
    const at = offset + c * count * widthOf(dtype)
    return dtype === 'float32' ? new Float32Array(bytes, at, count) : new Float64Array(bytes, at, count)
  })
  return { dtype, values }
}
