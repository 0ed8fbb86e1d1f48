import { analyse } from '#signal/report'
import type { Report } from '#signal/report-types'
import { DEFAULT_BANDS } from '#signal/constants'
import { totalDurationS } from '#signal/simulator/exercise'
import { randomScript } from '#signal/simulator/population'
import { createRandom } from '#signal/simulator/random'
import { simulateSession } from '#signal/simulator/session'
import type { Episode, Overlay, SessionScript } from '#signal/simulator/script'
import type { SimulatedSession, SimulationTruth } from '#signal/simulator/truth'
import { toDogAxes } from '#signal/mount/rotation'
import { bandPower } from '#signal/spectrum/band-power'
import { cutAxes } from '#signal/sway/dog-axes'
import { tremorSpectra } from '#signal/tremor/tremor-spectra'
import { median } from 'simple-statistics'
import { overlapS } from './match.ts'

/** What a session holds that may look like tremor: the tremor as a multiple of the background, or something else. */
export type TremorDesign = 1 | 2 | 3 | 4 | 'panting' | 'tail wag' | 'nothing'

export const TREMOR_DESIGNS: readonly TremorDesign[] = [1, 2, 3, 4, 'panting', 'tail wag', 'nothing']

/** Holds shorter than this are not asked for a peak, s. */
const MIN_HOLD_S = 2

const [BAND] = DEFAULT_BANDS

/** The tremor decision on one hold of the exercise of at least 2 s during which the design was playing. */
export interface HoldDecision {
  /** Distinct and not flagged as a look-alike: what the report calls a tremor. */
  readonly tremor: boolean
  readonly lookalike: string | null
  readonly peakHz: number | null
}

/** The decisions of one session. */
export interface SessionDecision {
  readonly seed: string
  readonly design: TremorDesign
  readonly holds: readonly HoldDecision[]
  /** More than half of its holds show a tremor; null without a hold. */
  readonly tremor: boolean | null
  /** Frequency of what was played, Hz; null for nothing. */
  readonly trueHz: number | null
}

/** Plays a session of one design and decides on its holds as the report does, mount found automatically. */
export function decideOnTremor(seed: string, design: TremorDesign): SessionDecision {
  const { session, trueHz } = playedSession(seed, design)
  const { report } = analyse({ trace: session.trace, unit: 'm/s2' })
  const holds = holdDecisions(report.holds, session.truth, design)
  const tremors = holds.filter(({ tremor }) => tremor).length
  return { seed, design, holds, tremor: holds.length === 0 ? null : tremors > holds.length / 2, trueHz }
}

/**
 * The session of a seed and design. The dog, sensor and mount are those of the seed's random session (its
 * sensor at 50 Hz or more, as the band needs 30), cut to the first two repetitions; the tremor has any
 * direction, each axis between 0.3 and 1. Background is the RMS of the tremor band over the same dog's stands
 * on the surface without any tremor (median), so a tremor of k times the background has k² times its power.
 */
export function playedSession(seed: string, design: TremorDesign) {
  const random = createRandom(`tremor/${seed}`)
  const { script, without, backgroundMs2 } = quietSession(seed)
  const rmsMs2 = random.uniform(0.05, 0.3)
  if (design === 'nothing') return { session: without, trueHz: null }
  if (typeof design === 'number') {
    const trueHz = random.uniform(4.5, 11.5)
    const weight = () => random.uniform(0.3, 1)
    const weights = { cc: weight(), ml: weight(), dv: weight() }
    const tremor = { frequencyHz: trueHz, rmsMs2: design * backgroundMs2, weights, when: 'standing' } as const
    return { session: simulateSession({ ...script, dog: { ...script.dog, tremor } }), trueHz }
  }
  const trueHz = design === 'panting' ? random.uniform(3.5, 6.5) : random.uniform(2, 5)
  const overlay: Overlay = {
    kind: design === 'panting' ? 'pant' : 'tail-wag',
    fromS: 0,
    toS: totalDurationS(script.episodes),
    frequencyHz: trueHz,
    rmsMs2,
  }
  return { session: simulateSession({ ...script, overlays: [overlay] }), trueHz }
}

type QuietSession = { script: SessionScript; without: SimulatedSession; backgroundMs2: number }
/** The designs of one seed share it. */
let lastQuiet: { seed: string; quiet: QuietSession } | null = null

function quietSession(seed: string): QuietSession {
  if (lastQuiet?.seed === seed) return lastQuiet.quiet
  const script = plainScript(seed)
  const without = simulateSession(script)
  const quiet = { script, without, backgroundMs2: backgroundOf(without) }
  lastQuiet = { seed, quiet }
  return quiet
}

function plainScript(seed: string): SessionScript {
  const script = randomScript(seed)
  const episodes = firstRepetitions(script.episodes, 2)
  const mount = { rotation: script.mount!.rotation }
  // The tremor band needs 30 Hz.
  return {
    ...script,
    rateHz: Math.max(50, script.rateHz),
    mount,
    episodes,
    overlays: [],
    dog: { ...script.dog, tremor: null },
  }
}

function firstRepetitions(episodes: readonly Episode[], count: number): readonly Episode[] {
  let ups = 0
  const end = episodes.findIndex(({ kind }) => kind === 'step-up' && ++ups > count)
  return end < 0 ? episodes : episodes.slice(0, end)
}

function backgroundOf({ trace, truth }: SimulatedSession): number {
  const axes = toDogAxes(truth.mountRotation, trace.acc)
  const { rateHz } = trace
  const holds = truth.stableIntervals.filter(
    ({ place, fromS, toS }) => place === 'hold' && toS - fromS >= MIN_HOLD_S,
  )
  return median(
    holds.map(({ fromS, toS }) => {
      const interval = cutAxes(axes, Math.ceil(fromS * rateHz), Math.floor(toS * rateHz))
      return Math.sqrt(bandPower(tremorSpectra(interval, rateHz).sum, BAND.fromHz, BAND.toHz))
    }),
  )
}

function holdDecisions(holds: Report['holds'], truth: SimulationTruth, design: TremorDesign): HoldDecision[] {
  const played = [...truth.pantings, ...truth.tailWags, ...truth.tremor]
  return holds.flatMap(({ role, fromS, toS, durationS, tremor }) => {
    const { power, distinct, lookalike, peakHz } = tremor.bands[0]
    if (role !== 'exercise' || durationS < MIN_HOLD_S || power === null) return []
    const playedS = played.reduce((sum, span) => sum + overlapS(span, { fromS, toS }), 0)
    // A hold found elsewhere (a sit, say) holds none of it.
    if (design !== 'nothing' && playedS < durationS / 2) return []
    return [{ tremor: distinct && lookalike === null, lookalike: distinct ? lookalike : null, peakHz }]
  })
}
