/** How the samples are kept at this moment, for health and metrics. Cheap to ask. */
export interface SeriesStatus {
  readonly kind: 'sqlite' | 'influx'
  /**
   * `spilling`: InfluxDB takes nothing; samples are acknowledged from the embedded store.
   * `catching up`: it takes them again, and what waits in the embedded store follows.
   */
  readonly state: 'ok' | 'spilling' | 'catching up'
  /** ISO time at which the spilling began, null in other states. */
  readonly since: string | null
  /** What is wrong and what to do about it, free of secrets; null while nothing is. */
  readonly problem: string | null
  /** Blocks of samples in the embedded store that belong into InfluxDB. */
  readonly waitingBlocks: number
  /** Streams whose samples InfluxDB refused; they stay, whole and readable, in the embedded store. */
  readonly refusedStreams: number
  /** Deletions that InfluxDB has not confirmed yet. */
  readonly pendingDeletions: number
}

export const EMBEDDED_SERIES: SeriesStatus = {
  kind: 'sqlite',
  state: 'ok',
  since: null,
  problem: null,
  waitingBlocks: 0,
  refusedStreams: 0,
  pendingDeletions: 0,
}
