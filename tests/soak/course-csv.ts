import type { SoakResult } from './result.ts'

const HEAD = [
  't_s',
  'life',
  'resident_mb',
  'heap_used_mb',
  'array_buffers_mb',
  'loop_p99_ms',
  'loop_max_ms',
  'open_files',
  'cpu_s',
  'data_mb',
  'taken',
  'acknowledged',
  'senders_connected',
  'latency_p50_ms',
  'latency_p99_ms',
  'clients_late_ms',
]

/** One row per look at the server, beside it the newest word of the senders at that moment. */
export function courseCsv({ startedAt, course: { usage, progress } }: SoakResult): string {
  const startMs = Date.parse(startedAt)
  let next = 0
  const rows = usage.map(({ atMs, life, residentMb, heap, openFiles, cpuS, dataMb }) => {
    while (next < progress.length && progress[next].atMs <= atMs) next++
    const clients = progress[next - 1]
    return [
      ((atMs - startMs) / 1000).toFixed(1),
      life,
      residentMb.toFixed(1),
      heap && (heap.heapUsed / 2 ** 20).toFixed(1),
      heap && (heap.arrayBuffers / 2 ** 20).toFixed(1),
      heap?.loopMs.p99.toFixed(1),
      heap?.loopMs.max.toFixed(1),
      openFiles,
      cpuS.toFixed(2),
      dataMb.toFixed(1),
      clients?.taken,
      clients?.acknowledged,
      clients?.sendersConnected,
      clients?.latencyMs?.p50.toFixed(1),
      clients?.latencyMs?.p99.toFixed(1),
      clients?.lateMs.toFixed(1),
    ].map((cell) => cell ?? '')
  })
  return [HEAD, ...rows].map((row) => `${row.join(',')}\n`).join('')
}
