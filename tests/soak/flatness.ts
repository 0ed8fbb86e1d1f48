import { median, min } from 'simple-statistics'
import { theilSen } from '#signal/trend/theil-sen'
import type { UsageSample } from './result.ts'
import type { Life } from './server-lives.ts'

/** A trend of one quantity, by a Theil–Sen line with Sen's 95 % interval. */
export interface Flatness {
  readonly quantity: string
  readonly unit: string
  /** Over which samples. */
  readonly over: string
  readonly level: number
  readonly points: number
  readonly slopePerHour: number
  readonly lowPerHour: number
  readonly highPerHour: number
}

/** The heap fills, caches and code warm up: left out at the begin of a life, s. */
const WARM_UP_S = 180
/**
 * A point stands for so long, s: neighbouring samples are not independent, and within it the heap is
 * collected in full at least once, as a rule.
 */
const POINT_S = 60
/** The phase of every life that is compared over lives, s after it listened. */
const PHASE_S = [8, 25] as const
const FEWEST_POINTS = 5

const MB = 2 ** 20

interface Quantity {
  readonly quantity: string
  readonly unit: string
  readonly of: (sample: UsageSample) => number | null
  /** What stands for the samples of a point. */
  readonly point: (values: number[]) => number
}

const QUANTITIES: readonly Quantity[] = [
  { quantity: 'resident memory', unit: 'MB', of: ({ residentMb }) => residentMb, point: median },
  // What lies above the least waits to be collected; how long it waits depends on what else runs.
  {
    quantity: 'heap used, least of a minute',
    unit: 'MB',
    of: ({ heap }) => heap && heap.heapUsed / MB,
    point: min,
  },
  {
    quantity: 'array buffers, least of a minute',
    unit: 'MB',
    of: ({ heap }) => heap && heap.arrayBuffers / MB,
    point: min,
  },
  { quantity: 'open files', unit: '', of: ({ openFiles }) => openFiles, point: median },
]

/** Trends over the longest life, and over the same phase of all lives; those with too few points are left out. */
export function flatnessOf(usage: readonly UsageSample[], lives: readonly Life[]): Flatness[] {
  const lengths = lives.map(({ readyAtMs, endedAtMs }) =>
    readyAtMs && endedAtMs ? endedAtMs - readyAtMs : 0,
  )
  const longest = lengths.indexOf(Math.max(...lengths))
  const readyAtMs = lives[longest]?.readyAtMs ?? Infinity
  const ofLongest = usage.filter(({ life, atMs }) => life === longest && atMs >= readyAtMs + WARM_UP_S * 1000)
  const minutes = (lengths[longest] / 60_000).toFixed(1)
  return QUANTITIES.flatMap(({ quantity, unit, of, point }) => [
    ...trend(
      { quantity, unit, over: `longest life, ${minutes} min, without its first ${WARM_UP_S / 60} min` },
      pointsOf(ofLongest, { of, point }, ({ atMs }) => Math.floor((atMs - readyAtMs) / (POINT_S * 1000))),
    ),
    ...trend(
      { quantity, unit, over: `${PHASE_S.join('–')} s after the start of each life` },
      pointsOf(
        usage.filter((sample) => isInPhase(sample, lives)),
        { of, point },
        ({ life }) => life,
      ),
    ),
  ])
}

/** Medians of groups of samples, as [hours, value]. */
function pointsOf(
  samples: readonly UsageSample[],
  { of, point }: Pick<Quantity, 'of' | 'point'>,
  groupOf: (sample: UsageSample) => number,
): [number, number][] {
  const groups = new Map<number, { atMs: number[]; values: number[] }>()
  for (const sample of samples) {
    const value = of(sample)
    if (value === null) continue
    const group = groups.get(groupOf(sample)) ?? { atMs: [], values: [] }
    groups.set(groupOf(sample), group)
    group.atMs.push(sample.atMs)
    group.values.push(value)
  }
  return [...groups.values()].map(({ atMs, values }) => [median(atMs) / 3_600_000, point(values)])
}

function trend(
  name: Pick<Flatness, 'quantity' | 'unit' | 'over'>,
  points: readonly [number, number][],
): Flatness[] {
  if (points.length < FEWEST_POINTS) return []
  const values = points.map(([, value]) => value)
  const { slope, low, high } = theilSen(
    points.map(([hours]) => hours - points[0][0]),
    values,
  )
  const ofSlope = { slopePerHour: slope, lowPerHour: low, highPerHour: high }
  return [{ ...name, level: median(values), points: points.length, ...ofSlope }]
}

function isInPhase({ life, atMs }: UsageSample, lives: readonly Life[]): boolean {
  const { readyAtMs } = lives[life]
  if (readyAtMs === null) return false
  const ageS = (atMs - readyAtMs) / 1000
  return ageS >= PHASE_S[0] && ageS < PHASE_S[1]
}
