import type { DeliveryOptions } from './delivery.ts'
import { opening, repetition, totalDurationS } from './exercise.ts'
import { createRandom } from './random.ts'
import type { Random } from './random.ts'
import type { Episode, Overlay, SessionScript, SimulatedDog, Surface } from './script.ts'

/** The invented demo dog: Juniper, a ten-year-old lurcher after spinal surgery. */
export const JUNIPER: SimulatedDog = {
  weightKg: 27,
  withersM: 0.68,
  floorSwayMs2: 0.036,
  unstableFactor: 2.6,
  mlShare: 0.55,
  naturalHz: { cc: 0.52, ml: 0.6 },
  weakness: { per10S: 0.12, perRepetition: 0.06 },
  handSupportFactor: 0.5,
}

/** The course of the demo programme, true by construction. */
export const DEMO_COURSE = {
  weeks: 16,
  sessionsPerWeek: 4,
  /** Expected hands-off sway on the foam pad in week 1, first repetition, m/s². */
  firstSwayMs2: 0.11,
  /** Sway of a week over that of the week before, on one set-up. */
  weeklyFactor: 0.96,
  badWeeks: [7, 8] as readonly number[],
  badFactor: 1.35,
  /** From this week on the last session of a week has the fore paws on the rocker board. */
  rockerFromWeek: 9,
  rockerFactor: 1.25,
  /** In this session the harness slips half-way. */
  slip: { week: 11, session: 2 },
  tremorHz: 8.2,
  tremorMs2: 0.05,
} as const

export type CheckInWord = 'tired' | 'sore' | 'normal' | 'better'

export interface DemoSetUp {
  readonly surface: Surface
  readonly heightM: number
  readonly firmness: 'soft' | 'medium' | 'firm'
  /** Distance between fore and hind paws, m. */
  readonly spacingM: number
}

export interface DemoSession {
  readonly script: SessionScript
  readonly delivery: DeliveryOptions
  readonly startedAtUs: number
  /** 1 to 16. */
  readonly week: number
  /** 1 to 4, within the week. */
  readonly session: number
  /** Amid the hands-off hold of each repetition, s from the start. */
  readonly repetitionsAtS: readonly number[]
  readonly exercise: keyof typeof DEMO_SET_UPS
  readonly setUp: DemoSetUp
  /** The handler's word the next morning. */
  readonly checkIn: CheckInWord
  /** What the script was made from: expected hands-off sway of the first repetition, tremor while standing. */
  readonly truth: {
    readonly swayMs2: number
    readonly floorSwayMs2: number
    readonly tremorMs2: number
    readonly badWeek: boolean
    readonly slipped: boolean
  }
}

/** The exercises of the programme. */
export const DEMO_SET_UPS = {
  'stand on foam pad': { surface: 'foam pad', heightM: 0.06, firmness: 'medium', spacingM: 0.52 },
  'fore paws on rocker board': { surface: 'rocker board', heightM: 0.1, firmness: 'firm', spacingM: 0.52 },
} as const satisfies Record<string, DemoSetUp>

const DAY_US = 86_400_000_000
const SESSION_DAYS = [0, 2, 4, 5]
/** Which of them is on the rocker board once there is one. */
const ROCKER_DAY = 3

/** The harness rolls over to one side. */
const SLIP = { rollDeg: 24, pitchDeg: 4, yawDeg: 0 }

/** SD of the day's own share of sway, on the logarithm. */
const DAY_SD = 0.04

/**
 * Sixteen weeks of Juniper's sessions, four a week, oldest first; the last falls on the day before
 * the UTC day of `endDateUs`. The date moves the sessions in time and changes nothing else.
 *
 * The foam pad goes on through all weeks, so that a trend has sixteen weeks less three of familiarisation; the
 * rocker board gets eight sessions, five of them after familiarisation: honestly too few for a trend.
 *
 * @param seed another one gives another run of the same course
 */
export function demoSessionScripts(endDateUs: number, seed = 'demo programme'): readonly DemoSession[] {
  const endDayUs = Math.floor(endDateUs / DAY_US) * DAY_US
  const sessions: DemoSession[] = []
  for (let week = 1; week <= DEMO_COURSE.weeks; week++) {
    SESSION_DAYS.forEach((day, index) => {
      const daysBefore = (DEMO_COURSE.weeks - week) * 7 + 6 - day
      const random = createRandom(`${seed}/${week}/${index}`)
      const timeOfDayUs = Math.round(random.uniform(16.8, 18.6) * 3600) * 1_000_000
      const rocker = week >= DEMO_COURSE.rockerFromWeek && index === ROCKER_DAY
      const startedAtUs = endDayUs - daysBefore * DAY_US + timeOfDayUs
      sessions.push(demoSession(seed, { week, session: index + 1, rocker, startedAtUs }, random))
    })
  }
  return sessions
}

/** Expected hands-off sway of a week's first repetition without the day's own ups and downs, m/s². */
export function demoWeekSwayMs2(week: number, rocker = false): number {
  const { firstSwayMs2, weeklyFactor, badWeeks, badFactor, rockerFactor } = DEMO_COURSE
  const bad = badWeeks.includes(week) ? badFactor : 1
  return firstSwayMs2 * weeklyFactor ** (week - 1) * bad * (rocker ? rockerFactor : 1)
}

interface DemoDay {
  readonly week: number
  readonly session: number
  readonly rocker: boolean
  readonly startedAtUs: number
}

function demoSession(
  seed: string,
  { week, session, rocker, startedAtUs }: DemoDay,
  random: Random,
): DemoSession {
  const badWeek = DEMO_COURSE.badWeeks.includes(week)
  const slipped = week === DEMO_COURSE.slip.week && session === DEMO_COURSE.slip.session
  const exercise = rocker ? 'fore paws on rocker board' : 'stand on foam pad'
  const setUp = DEMO_SET_UPS[exercise]
  const swayMs2 = demoWeekSwayMs2(week, rocker) * Math.exp(DAY_SD * random.normal())
  const floorSwayMs2 = JUNIPER.floorSwayMs2 * Math.exp(0.06 * random.normal())
  const tremorMs2 = DEMO_COURSE.tremorMs2 * Math.exp(0.1 * random.normal())
  const episodes: Episode[] = [...opening(random)]
  const repetitionsAtS: number[] = []
  for (let count = 1; count <= 3; count++) {
    const beganS = totalDurationS(episodes)
    const handsOffS = Math.max(4, random.uniform(12, 15) + 0.1 * week - (badWeek ? 3.5 : 0) - 0.6 * count)
    const stumbles = random.uniform() < (badWeek ? 0.7 : 0.3)
    episodes.push(
      ...repetition(
        {
          surface: setUp.surface,
          swayMs2,
          steadiedS: random.uniform(3, 5) + (badWeek ? 2 : 0),
          handsOffS,
          ...(stumbles && { stepThenS: random.uniform(4, 7) }),
          wobblesOff: badWeek && random.uniform() < 0.4,
          restS: random.uniform(24, 36),
        },
        random,
      ),
    )
    repetitionsAtS.push(middleOfHandsOffS(episodes, beganS))
  }
  // Not by the date: every demo is the same course, whatever the day it is started.
  const scriptSeed = `${seed}/${week}/${session}/script`
  return {
    startedAtUs,
    week,
    session,
    repetitionsAtS,
    exercise,
    setUp,
    checkIn: checkInWord(badWeek, random),
    truth: { swayMs2, floorSwayMs2, tremorMs2, badWeek, slipped },
    script: {
      seed: scriptSeed,
      startedAtUs,
      rateHz: 100,
      dog: {
        ...JUNIPER,
        floorSwayMs2,
        tremor: {
          frequencyHz: DEMO_COURSE.tremorHz + 0.15 * random.normal(),
          rmsMs2: tremorMs2,
          when: 'holds',
        },
      },
      mount: {
        rotation: {
          rollDeg: 2 * random.normal(),
          pitchDeg: -8 + 2 * random.normal(),
          yawDeg: 1.5 * random.normal(),
        },
        ...(slipped && { slip: { atS: repetitionsAtS[1] + 20, turn: SLIP } }),
      },
      sensor: {
        noiseMs2: 0.012,
        biasMs2: [0.05, -0.03, 0.08],
        scaleError: [0.004, -0.003, 0.006],
        stepMs2: 0.0048,
      },
      clock: { ppm: 32 },
      episodes,
      overlays: demoOverlays(totalDurationS(episodes), random),
      marks: { lagS: 0.25, sdS: 0.1 },
    },
    delivery: {
      seed: `${scriptSeed}/radio`,
      lossRate: random.uniform() < 0.2 ? 0.004 : 0,
      stalls: { perMinute: 0.3, meanS: 0.5 },
    },
  }
}

/** The middle of the first hands-off hold after `beganS`, s from the start. */
function middleOfHandsOffS(episodes: readonly Episode[], beganS: number): number {
  let atS = 0
  for (const episode of episodes) {
    if (atS >= beganS - 1e-9 && episode.kind === 'hold' && episode.support === 'hands-off') {
      return atS + episode.durationS / 2
    }
    atS += episode.durationS
  }
  throw new RangeError(`no hands-off hold begins after ${beganS} s`)
}

/** Panting after the work on some days, and a wagging tail at the treat. */
function demoOverlays(durationS: number, random: Random): readonly Overlay[] {
  const overlays: Overlay[] = []
  if (random.uniform() < 0.2) {
    overlays.push({
      kind: 'pant',
      fromS: durationS - random.uniform(45, 75),
      toS: durationS,
      frequencyHz: random.uniform(4.6, 5.4),
      rmsMs2: random.uniform(0.12, 0.25),
    })
  }
  const wagS = durationS - random.uniform(15, 25)
  overlays.push({
    kind: 'tail-wag',
    fromS: wagS,
    toS: wagS + random.uniform(4, 8),
    frequencyHz: random.uniform(2.6, 3.6),
    rmsMs2: random.uniform(0.15, 0.3),
  })
  return overlays
}

function checkInWord(badWeek: boolean, random: Random): CheckInWord {
  const draw = random.uniform()
  if (badWeek) return draw < 0.4 ? 'sore' : draw < 0.85 ? 'tired' : 'normal'
  return draw < 0.1 ? 'tired' : draw < 0.13 ? 'sore' : draw < 0.8 ? 'normal' : 'better'
}
