import type { Store } from '#server/store/store'

/** Everything a stream holds, as [index, ax, ay, az, …] rows in order. */
export async function storedSamples({ series }: Store, stream: string): Promise<number[][]> {
  const rows: number[][] = []
  for await (const block of series.readSamples(stream, 0, Number.MAX_SAFE_INTEGER)) {
    for (let i = 0; i < block.count; i++) {
      rows.push([block.firstIndex + i, ...block.values.map((column) => column[i])])
    }
  }
  return rows
}
