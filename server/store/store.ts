import type { Archives } from './archives.ts'
import type { Records } from './records.ts'
import type { TimeSeries } from './time-series.ts'

/** What the server keeps; the only thing routes know about storage. */
export interface Store {
  readonly records: Records
  readonly series: TimeSeries
  readonly archives: Archives
  /** Waits for what was begun, then releases the files. */
  close(): Promise<void>
}
