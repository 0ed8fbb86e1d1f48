import { createRandom } from '#signal/simulator/random'
import type { Random } from '#signal/simulator/random'

export const KILL_KINDS = ['server', 'influxd', 'network'] as const
export type KillKind = (typeof KILL_KINDS)[number]

interface At {
  /** From the start of the chaos, s. */
  readonly atS: number
}

/** kill -9, then a start; `againAfterMs` later, while it starts, killed once more. */
export interface ServerKill extends At {
  readonly kind: 'server'
  readonly downS: number
  readonly againAfterMs: number | null
}

export interface InfluxdKill extends At {
  readonly kind: 'influxd'
  readonly downS: number
}

export interface NetworkFault extends At {
  readonly kind: 'network'
  readonly fault: 'cut' | 'swallow' | 'delay'
  readonly slots: readonly number[]
  readonly forS: number
  /** Of a delay. */
  readonly delayMs: number
}

export type ChaosEvent = ServerKill | InfluxdKill | NetworkFault

export interface ScheduleOptions {
  readonly seed: number
  readonly seconds: number
  readonly streams: number
  readonly kills: readonly KillKind[]
}

/** From here on there is time for one life of the server long enough to see a leak. */
const LONG_RUN_S = 600
/** The share of a long run in which the server is left alive, network and InfluxDB are not. */
const LONG_LIFE = [0.3, 0.86] as const
const EVERY_S = { server: 35, influxd: 100, network: 4 } as const
/** Of a short run: several of each kind all the same. */
const EVERY_SHORT_S = { server: 12, influxd: 18, network: 2.5 } as const

/** What will go wrong and when, ascending in time; the same for the same seed. */
export function chaosSchedule({ seed, seconds, streams, kills }: ScheduleOptions): ChaosEvent[] {
  const random = createRandom(`soak/${seed}/chaos`)
  const isLong = seconds >= LONG_RUN_S
  const every = isLong ? EVERY_S : EVERY_SHORT_S
  const events = kills.flatMap((kind) => {
    const own = random.split(kind)
    const all = times(own, every[kind], seconds).map((atS): ChaosEvent => {
      if (kind === 'server') return serverKill(own, atS)
      if (kind === 'influxd') return { kind, atS, downS: own.uniform(1, isLong ? 45 : 6) }
      return networkFault(own, atS, streams)
    })
    const isLongLife = ({ atS }: At) =>
      isLong && atS >= LONG_LIFE[0] * seconds && atS < LONG_LIFE[1] * seconds
    return kind === 'server' ? all.filter((event) => !isLongLife(event)) : all
  })
  return events.sort((a, b) => a.atS - b.atS)
}

function times(random: Random, everyS: number, seconds: number): number[] {
  const all: number[] = []
  for (let atS = random.uniform(0.5, 1.5) * everyS; atS < seconds; atS += random.uniform(0.5, 1.5) * everyS) {
    all.push(atS)
  }
  return all
}

function serverKill(random: Random, atS: number): ServerKill {
  const againAfterMs = random.uniform() < 0.2 ? random.uniform(0, 600) : null
  return { kind: 'server', atS, downS: random.uniform(0, 3), againAfterMs }
}

function networkFault(random: Random, atS: number, streams: number): NetworkFault {
  const fault = random.pick(['cut', 'cut', 'swallow', 'delay'] as const)
  // Now and then the whole street.
  const share = random.uniform() < 0.05 ? 1 : random.uniform(0, 0.12)
  const slots = Array.from({ length: streams }, (_, slot) => slot).filter(() => random.uniform() < share)
  if (slots.length === 0) slots.push(Math.floor(random.uniform(0, streams)))
  const forS = fault === 'cut' ? random.uniform(0.2, 8) : random.uniform(3, 12)
  return { kind: 'network', atS, fault, slots, forS, delayMs: random.uniform(50, 800) }
}
