import type { Archives } from './archives.ts'
import type { People } from './people/people.ts'
import type { Records } from './records.ts'
import type { SeriesStatus } from './series-status.ts'
import type { TimeSeries } from './time-series.ts'

/** What the server keeps; the only thing routes know about storage. */
export interface Store {
  readonly records: Records
  readonly series: TimeSeries
  readonly archives: Archives
  seriesStatus(): SeriesStatus
  /** Tells each time samples that were out of reach can be read again. */
  onSeriesBack(listener: () => void): void
  readonly people: People
  /** Waits for what was begun, then releases the files. */
  close(): Promise<void>
}
