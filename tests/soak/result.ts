import type { Fault } from './chaos.ts'
import type { Progress } from './client-messages.ts'
import type { SampleCount } from './compare.ts'
import type { Flatness } from './flatness.ts'
import type { SoakOptions } from './options.ts'
import type { KillKind } from './schedule.ts'
import type { HeapUsage, Life } from './server-lives.ts'

/** The server at one moment; null where it was not alive to say. */
export interface UsageSample {
  readonly atMs: number
  /** Place in `lives`. */
  readonly life: number
  readonly residentMb: number
  readonly cpuS: number
  readonly openFiles: number
  readonly heap: HeapUsage | null
  readonly dataMb: number
}

export interface Tally {
  readonly scheduled: number
  readonly done: number
  /** Processes killed, connections hit. */
  readonly hits: number
}

export interface SoakResult {
  readonly options: SoakOptions
  readonly startedAt: string
  readonly minutes: number
  readonly commit: string
  readonly machine: {
    readonly cores: number
    readonly memoryGb: number
    readonly node: string
    readonly system: string
  }
  readonly recordings: {
    readonly all: number
    readonly finished: number
    readonly marks: number
    readonly connections: number
  }
  readonly samples: {
    /** By the sensors, without what the radio lost. */
    readonly acknowledged: number
    readonly sentTwice: number
    readonly lostOnRadio: number
    readonly lostRanges: number
    readonly throughApi: SampleCount
    readonly inStore: SampleCount
    readonly inInflux: SampleCount | null
  }
  readonly faults: Readonly<Record<KillKind, Tally>>
  /** Windows outside and inside the time of a fault and a little after, ms. */
  readonly latencyMs: { readonly calm: LatencySummary; readonly all: LatencySummary }
  readonly flatness: readonly Flatness[]
  readonly restartMs: { readonly median: number; readonly longest: number }
  /** Everything that must not be; empty when the run passed. */
  readonly problems: readonly string[]
  readonly course: {
    readonly usage: readonly UsageSample[]
    readonly progress: readonly Progress[]
    readonly lives: readonly Life[]
    readonly faults: readonly Fault[]
  }
}

/** Of the percentiles of every two seconds: their median, and the worst. */
export interface LatencySummary {
  readonly p50: number
  readonly p99: number
  readonly worst: number
}
