import type { Archives } from './archives.ts'
import type { People } from './people/people.ts'
import type { Records } from './records.ts'
import type { SeriesStatus } from './series-status.ts'
import type { CorruptBlockError, TimeSeries } from './time-series.ts'

/** What the server keeps; the only thing routes know about storage. */
export interface Store {
  readonly records: Records
  readonly series: TimeSeries
  readonly archives: Archives
  seriesStatus(): SeriesStatus
  /** Tells each time samples that were out of reach can be read again. */
  onSeriesBack(listener: () => void): void
  /** Tells every damaged block that reading samples meets, each time. */
  onDamaged(listener: (damage: CorruptBlockError) => void): void
  readonly people: People
  /** Waits for what was begun, then releases the files. */
  close(): Promise<void>
}
