/** How to reach the InfluxDB that keeps the samples. */
export interface InfluxSettings {
  /** Without a path at its end; no credentials in it. */
  readonly url: string
  readonly target: InfluxTarget
  /** An answer that takes longer counts as none. */
  readonly timeoutMs: number
  /** How long to leave InfluxDB alone after a failure; doubled up to the longest. */
  readonly firstRetryMs: number
  readonly longestRetryMs: number
}

export type InfluxTarget =
  | { readonly api: 'v2'; readonly org: string; readonly bucket: string; readonly token: string }
  | {
      readonly api: 'v1'
      readonly database: string
      /** Null without authentication. */
      readonly login: { readonly username: string; readonly password: string } | null
    }

export const INFLUX_TIMES = { timeoutMs: 5000, firstRetryMs: 1000, longestRetryMs: 30_000 } as const

/** Bucket or database, as people know it. */
export function databaseOf(target: InfluxTarget): string {
  return target.api === 'v2' ? target.bucket : target.database
}
