import { execFileSync } from 'node:child_process'
import { cpus, platform, release, totalmem } from 'node:os'
import { fileURLToPath } from 'node:url'
import { median } from 'simple-statistics'
import type { Fault } from './chaos.ts'
import type { Checked } from './check-recordings.ts'
import type { Progress, RecordingAccount } from './client-messages.ts'
import { flatnessOf } from './flatness.ts'
import type { SoakOptions } from './options.ts'
import type { LatencySummary, SoakResult, Tally, UsageSample } from './result.ts'
import { KILL_KINDS } from './schedule.ts'
import type { ChaosEvent, KillKind } from './schedule.ts'
import { lostRanges } from './sensor.ts'
import type { Life } from './server-lives.ts'

export interface SummaryInput {
  readonly options: SoakOptions
  readonly startedAtMs: number
  readonly minutes: number
  readonly accounts: readonly RecordingAccount[]
  readonly checked: Checked
  readonly problems: readonly string[]
  readonly schedule: readonly ChaosEvent[]
  readonly usage: readonly UsageSample[]
  readonly progress: readonly Progress[]
  readonly lives: readonly Life[]
  readonly faults: readonly Fault[]
}

/** So long after a fault everything may still be catching up, ms. */
const AFTERMATH_MS = 15_000

export function summary(input: SummaryInput): SoakResult {
  const { options, accounts, checked, lives, usage, progress, faults } = input
  const tallies = Object.fromEntries(KILL_KINDS.map((kind) => [kind, tally(kind, input)])) as Record<
    KillKind,
    Tally
  >
  const lost = accounts.flatMap(({ key, acknowledged }) => lostRanges(key, acknowledged))
  const lostOnRadio = lost.reduce((sum, { count }) => sum + count, 0)
  const restarts = lives
    .slice(1)
    .flatMap(({ startedAtMs, readyAtMs }) => (readyAtMs ? [readyAtMs - startedAtMs] : []))
  return {
    options,
    startedAt: new Date(input.startedAtMs).toISOString(),
    minutes: input.minutes,
    commit: execFileSync('git', ['rev-parse', '--short', 'HEAD'], { cwd: here, encoding: 'utf8' }).trim(),
    machine: {
      cores: cpus().length,
      memoryGb: Math.round(totalmem() / 2 ** 30),
      node: process.version,
      system: `${platform()} ${release().split('.').slice(0, 2).join('.')}`,
    },
    recordings: {
      all: accounts.length,
      finished: accounts.filter(({ finishedSamples }) => finishedSamples !== null).length,
      marks: checked.marks,
      connections: sum(accounts, ({ connections }) => connections),
    },
    samples: {
      acknowledged: sum(accounts, ({ acknowledged }) => acknowledged) - lostOnRadio,
      sentTwice: sum(accounts, ({ sentTwice }) => sentTwice),
      lostOnRadio,
      lostRanges: checked.lostRanges,
      throughApi: checked.throughApi,
      inStore: checked.inStore,
      inInflux: checked.inInflux,
    },
    faults: tallies,
    latencyMs: latencies(progress, faults),
    flatness: flatnessOf(usage, lives),
    restartMs: { median: restarts.length > 0 ? median(restarts) : 0, longest: Math.max(0, ...restarts) },
    problems: [...input.problems, ...undoneFaults(tallies)],
    course: { usage, progress, lives, faults },
  }
}

const here = fileURLToPath(new URL('.', import.meta.url))

function tally(kind: KillKind, { schedule, faults }: SummaryInput): Tally {
  const done = faults.filter((fault) => fault.kind === kind)
  return {
    scheduled: schedule.filter((event) => event.kind === kind).length,
    done: done.length,
    hits: sum(done, ({ hits }) => hits),
  }
}

/** A run in which less went wrong than was meant to proves less than it says. */
function undoneFaults(tallies: Readonly<Record<KillKind, Tally>>): string[] {
  return Object.entries(tallies).flatMap(([kind, { scheduled, done, hits }]) =>
    done < scheduled || hits < scheduled
      ? [`of ${scheduled} faults of ${kind} ${done} were done, with ${hits} hits`]
      : [],
  )
}

function latencies(progress: readonly Progress[], faults: readonly Fault[]): SoakResult['latencyMs'] {
  const isCalm = ({ atMs }: Progress) =>
    !faults.some(
      ({ kind, atMs: from, untilMs }) => kind !== 'network' && atMs > from && atMs < untilMs + AFTERMATH_MS,
    )
  return { calm: latencySummary(progress.filter(isCalm)), all: latencySummary(progress) }
}

function latencySummary(progress: readonly Progress[]): LatencySummary {
  const all = progress.flatMap(({ latencyMs }) => latencyMs ?? [])
  if (all.length === 0) return { p50: NaN, p99: NaN, worst: NaN }
  return {
    p50: median(all.map(({ p50 }) => p50)),
    p99: median(all.map(({ p99 }) => p99)),
    worst: Math.max(...all.map(({ max }) => max)),
  }
}

function sum<T>(all: readonly T[], of: (one: T) => number): number {
  return all.reduce((total, one) => total + of(one), 0)
}
