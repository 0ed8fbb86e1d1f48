/** What the process with the senders and viewers is asked to do. */
export interface Round {
  readonly wsUrl: string
  /** One stream and one viewer each. */
  readonly sessions: readonly string[]
  /** The streams begin spread over this time. */
  readonly rampS: number
  /** Then runs this long before anything counts. */
  readonly warmUpS: number
  readonly seconds: number
}

export interface Percentiles {
  readonly p50: number
  readonly p99: number
  readonly max: number
}

/** What it saw. */
export interface RoundResult {
  /** Newest sample of a window reaches the sender → the window reaches the viewer, ms. */
  readonly latencyMs: Percentiles
  /** How late packets were sent by the bench itself, ms: a starved bench shows here. */
  readonly lateMs: Percentiles
  readonly windowsPerS: number
  readonly snapshots: number
  readonly viewerBytesPerS: number
  readonly clientCpuS: number
  readonly measuredS: number
  /** Per stream. */
  readonly sentSamples: readonly number[]
  readonly acknowledgedSamples: readonly number[]
  /** From the last packet to the last acknowledgement, ms; null when some never came. */
  readonly drainedMs: number | null
  /** Connections that ended or were refused, with the reasons. */
  readonly broken: readonly string[]
}

/** From the client process. */
export type Report = { kind: 'measuring' } | { kind: 'measured' } | { kind: 'result'; result: RoundResult }

/** To it: run this round; then, later, go. */
export type Order = { kind: 'round'; round: Round } | { kind: 'finish'; streams: readonly number[] }

export function percentiles(values: readonly number[]): Percentiles {
  if (values.length === 0) return { p50: NaN, p99: NaN, max: NaN }
  const sorted = Float64Array.from(values).sort()
  const at = (share: number) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))]
  return { p50: at(0.5), p99: at(0.99), max: sorted[sorted.length - 1] }
}
