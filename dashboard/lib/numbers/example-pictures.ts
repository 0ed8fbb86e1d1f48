import { analyse } from '#signal/report'
import type { Analysis } from '#signal/report'
import type { MountOption } from '#signal/mount/mount'
import { holdDetailOf } from '#signal/review/hold-detail'
import { timelineOf } from '#signal/review/timeline'
import { piecesOf } from '#signal/session/dog-stretch'
import { createRandom } from '#signal/simulator/random'
import type { SessionScript } from '#signal/simulator/script'
import { simulateSession } from '#signal/simulator/session'
import type { Trace } from '#signal/trace/trace'
import { tremorSpectra } from '#signal/tremor/tremor-spectra'
import { oneHold, QUICK_DOG, SLOW_DOG, standWithStep, tiringSession, TREMBLING_DOG } from './example-scripts'
import type {
  DirectionPicture,
  GapPicture,
  HoldPicture,
  NumberPictures,
  PiecesPicture,
  ReadingPicture,
  SessionPicture,
  SpectrumPicture,
  StandPicture,
} from './pictures'

const STEADY = { holdS: 11, swayMs2: 0.06 }
const WOBBLY = { holdS: 11, swayMs2: 0.15 }
const SPECTRUM_TO_HZ = 20
const UNCHANGED_SESSIONS = 12
/** Day-to-day ups and downs of the invented dog, as a standard deviation of the log. */
const DAY_TO_DAY = 0.1

/**
 * Plays the example sessions, analyses them as any recording and keeps what the pictures need. Not part of
 * the page: `pictures.json` holds the result, and a test compares the two.
 */
export function numberPictures(): NumberPictures {
  const steady = analysed(oneHold('steady', STEADY))
  const wobbly = analysed(oneHold('wobbly', WOBBLY))
  const sameSway = { holdS: 11, swayMs2: 0.1 }
  const slow = analysed(oneHold('tempo', sameSway, { dog: SLOW_DOG }))
  const quick = analysed(oneHold('tempo', sameSway, { dog: QUICK_DOG }))
  const noTremor = analysed(oneHold('tremor', sameSway))
  const tremor = analysed(oneHold('tremor', sameSway, { dog: TREMBLING_DOG }))
  return {
    steady: holdPicture(steady),
    wobbly: holdPicture(wobbly),
    floor: floorPicture(oneHold('steady', STEADY)),
    slow: holdPicture(slow),
    quick: holdPicture(quick),
    stand: standPicture(),
    gap: gapPicture(),
    session: sessionPicture(),
    pieces: piecesPicture(),
    noTremor: spectrumPicture(noTremor),
    tremor: spectrumPicture(tremor),
    panting: directionPicture('pant', 4.9),
    wagging: directionPicture('tail-wag', 3.2),
    heading: headingPictures(),
    fine: readingPicture(0),
    coarse: readingPicture(0.1),
    unchanged: unchangedSessions(),
  }
}

function analysed(script: SessionScript, mount: MountOption = 'identity'): Analysis {
  return analysedTrace(simulateSession(script).trace, mount)
}

function analysedTrace(trace: Trace, mount: MountOption = 'identity'): Analysis {
  return analyse({ trace, unit: 'm/s²' }, { mount })
}

/** The longest hold of the exercise, with its place in the report. */
function longestHold(analysis: Analysis) {
  const found = analysis.report.holds
    .map((hold, index) => ({ hold, index }))
    .filter(({ hold }) => hold.role === 'exercise')
    .sort((a, b) => b.hold.durationS - a.hold.durationS)
  if (found.length === 0) throw new Error('the example has no hold')
  return found[0]
}

function holdPicture(analysis: Analysis): HoldPicture {
  const { hold, index } = longestHold(analysis)
  const { path } = holdDetailOf(analysis, index)
  const { sway } = hold
  return {
    path: { stepS: path.stepS, ml: path.ml.map(toTenthMm), cc: path.cc.map(toTenthMm) },
    ellipse: {
      major: toDigits(sway.ellipse.major),
      minor: toDigits(sway.ellipse.minor),
      // Unknown while the heading is: the drawing then takes it from the path.
      angleDeg: toDigits(sway.ellipse.angleDeg ?? 0),
      area: toDigits(sway.ellipse.area),
    },
    rms: toDigits(sway.rms.horizontal),
    rmsInterval: present(sway.rmsInterval).map(toDigits) as [number, number],
    pathRate: toDigits(sway.pathRate),
    jerk: toDigits(sway.jerk),
    steadinessRatio: toDigits(present(sway.steadinessRatio)),
    f50Hz: sway.spectral.f50Hz.ml,
    f95Hz: sway.spectral.f95Hz.ml,
  }
}

/** The quiet stand of a session, exactly as marked. */
function floorPicture(script: SessionScript): HoldPicture {
  const { trace } = simulateSession(script)
  const at = (kind: string) => present(trace.marks.find((mark) => mark.kind === kind)).atS
  const interval = [at('quiet-stand-start'), at('quiet-stand-end')] as const
  return holdPicture(analyse({ trace, unit: 'm/s²' }, { mount: 'identity', interval }))
}

/** The repetition of the session, from 2 s before it. */
function standPicture(): StandPicture {
  const played = simulateSession(standWithStep)
  const [repetition] = played.truth.repetitions
  const span = { fromS: repetition.fromS - 2, toS: repetition.toS + 1 }
  const stand = motionWithHolds(analysedTrace(played.trace), span)
  return {
    ...stand,
    handsOff: played.truth.holds
      .filter((hold) => hold.support === 'hands-off')
      .map((hold) => within(hold, span)),
    steps: played.truth.steps.map((step) => within(step, span)),
  }
}

function motionWithHolds(analysis: Analysis, span: { fromS: number; toS: number }) {
  const stepS = 0.05
  const timeline = timelineOf(analysis, Math.round(analysis.report.trace.durationS / stepS))
  const { bucketS } = timeline
  const cut = (values: readonly (number | null)[]) =>
    values
      .slice(Math.round(span.fromS / bucketS), Math.round(span.toS / bucketS))
      .map((value) => (value === null ? null : toTenthMm(value)))
  return {
    stepS: toDigits(bucketS),
    min: cut(timeline.overview.ml.min),
    max: cut(timeline.overview.ml.max),
    holds: analysis.report.holds
      .filter((hold) => hold.role === 'exercise' && hold.fromS >= span.fromS && hold.toS <= span.toS)
      .map((hold) => ({ ...within(hold, span), handsOffS: toDigits(hold.handsOffS ?? 0) })),
  }
}

/** A hold during which the radio link breaks off for a moment, twice. */
function gapPicture(): GapPicture {
  const { trace, truth } = simulateSession(oneHold('gap', { holdS: 14, swayMs2: 0.08 }))
  const [{ fromS }] = truth.holds
  const lost = [
    { fromS: fromS + 4, toS: fromS + 4.2 },
    { fromS: fromS + 8.5, toS: fromS + 10 },
  ]
  const analysis = analysedTrace(withoutSamples(trace, lost))
  const span = { fromS: fromS - 3, toS: fromS + 17 }
  const { quality } = analysis.report
  return {
    ...motionWithHolds(analysis, span),
    gaps: quality.gaps.map((gap) => within(gap, span)),
    coverage: toDigits(quality.coverage),
    verdict: quality.verdict,
  }
}

function withoutSamples(trace: Trace, lost: readonly { fromS: number; toS: number }[]): Trace {
  const kept = trace.t.reduce<number[]>((list, atS, i) => {
    return lost.some((gap) => atS >= gap.fromS && atS < gap.toS) ? list : [...list, i]
  }, [])
  const pick = (values: Float64Array) => Float64Array.from(kept, (i) => values[i])
  const { x, y, z } = trace.acc
  return { ...trace, t: pick(trace.t), acc: { x: pick(x), y: pick(y), z: pick(z) } }
}

function sessionPicture(): SessionPicture {
  const { report } = analysed(tiringSession)
  const { session } = report
  return {
    holds: report.holds
      .filter((hold) => hold.role === 'exercise')
      .map((hold) => ({
        repetition:
          1 +
          session.repetitions.findIndex(
            (repetition) => hold.toS > repetition.fromS && hold.fromS < repetition.toS,
          ),
        handsOnS: toDigits(hold.durationS - present(hold.handsOffS)),
        handsOffS: toDigits(present(hold.handsOffS)),
      })),
    repetitionSway: session.repetitions.map((repetition) => toDigits(present(repetition.swayRms))),
    lastOverFirst: toDigits(present(session.fatigue.lastOverFirst)),
    handsOffHoldS: toDigits(present(session.handsOffHoldS)),
    bestHoldS: toDigits(present(session.bestHoldS)),
    supportShare: toDigits(present(session.supportShare)),
  }
}

function piecesPicture(): PiecesPicture {
  const { trace } = simulateSession(oneHold('pieces', { holdS: 18, swayMs2: 0.08 }))
  const analysis = analysedTrace(trace)
  const { hold, index } = longestHold(analysis)
  const { comparable } = analysis.report.session
  const sway = Array.from({ length: comparable.pieces }, (_, k) => {
    const fromS = hold.fromS + k * comparable.pieceS
    const piece = analyse(
      { trace, unit: 'm/s²' },
      { mount: 'identity', interval: [fromS, fromS + comparable.pieceS] },
    )
    return toDigits(piece.report.holds[0].sway.rms.horizontal)
  })
  const { path } = holdDetailOf(analysis, index)
  return {
    stepS: path.stepS,
    ml: path.ml.map(toTenthMm),
    pieceS: comparable.pieceS,
    sway,
    comparable: toDigits(present(comparable.swayRms)),
    whole: toDigits(hold.sway.rms.horizontal),
  }
}

function spectrumPicture(analysis: Analysis): SpectrumPicture {
  const { hold, index } = longestHold(analysis)
  const { spectrum } = holdDetailOf(analysis, index)
  const band = present(hold.tremor.bands.find(({ name }) => name === 'tremor'))
  const shown = spectrum.frequencyHz.filter((hz) => hz > 0 && hz <= SPECTRUM_TO_HZ).length
  return {
    frequencyHz: spectrum.frequencyHz.slice(1, shown + 1),
    density: spectrum.density.slice(1, shown + 1).map(toDigits),
    rms: toDigits(present(band.rms)),
    peakHz: band.distinct ? toDigits(present(band.peakHz)) : null,
  }
}

function directionPicture(kind: 'pant' | 'tail-wag', frequencyHz: number): DirectionPicture {
  const script = oneHold(
    kind,
    { holdS: 11, swayMs2: 0.08 },
    {
      overlays: [{ kind, fromS: 18, toS: 40, frequencyHz, rmsMs2: 0.12 }],
    },
  )
  const analysis = analysed(script)
  const { hold } = longestHold(analysis)
  const flagged = present(hold.tremor.bands.find(({ lookalike }) => lookalike !== null))
  const [piece] = piecesOf(analysis.stretches, analysis.uniform.rateHz, hold)
  const spectra = tremorSpectra(piece.raw, analysis.uniform.rateHz)
  const shown = spectra.sum.frequencyHz.findIndex((hz) => hz > SPECTRUM_TO_HZ)
  const cut = (values: Float64Array) => Array.from(values.subarray(1, shown), toDigits)
  return {
    frequencyHz: cut(spectra.sum.frequencyHz),
    ml: cut(spectra.ml.density),
    dv: cut(spectra.dv.density),
    peakHz: toDigits(present(flagged.peakHz)),
    lookalike: present(flagged.lookalike),
  }
}

/** The same session by two sensors: one along the dog, one turned by 40° about the vertical. */
function headingPictures(): NumberPictures['heading'] {
  const hand = { holdS: 11, swayMs2: 0.09 }
  const dog = { ...SLOW_DOG, mlShare: 0.8 }
  const rotation = { rollDeg: 0, pitchDeg: 0, yawDeg: 40 }
  return {
    stated: holdPicture(analysed(oneHold('heading', hand, { dog }))),
    unknown: holdPicture(analysed(oneHold('heading', hand, { dog, mount: { rotation } }), 'auto')),
  }
}

/** Six seconds of a hold as read by a sensor of the given step, m/s². */
function readingPicture(stepMs2: number): ReadingPicture {
  const { trace, truth } = simulateSession(
    oneHold('steps', { holdS: 11, swayMs2: 0.08 }, { rateHz: 50, sensor: { stepMs2 } }),
  )
  const from = trace.t.findIndex((atS) => atS >= truth.holds[0].fromS + 3)
  const shown = 6 * trace.rateHz
  return {
    stepS: 1 / trace.rateHz,
    ml: Array.from(trace.acc.y.subarray(from, from + shown), toTenthMm),
    verdict: analysedTrace(trace).report.quality.verdict,
  }
}

function unchangedSessions(): number[] {
  const random = createRandom('numbers/unchanged days')
  return Array.from({ length: UNCHANGED_SESSIONS }, (_, day) => {
    const swayMs2 = 0.09 * Math.exp(DAY_TO_DAY * random.normal())
    const { report } = analysed(oneHold(`unchanged ${day}`, { holdS: 17, swayMs2 }))
    return toDigits(present(report.session.comparable.swayRms))
  })
}

function within(of: { fromS: number; toS: number }, span: { fromS: number }) {
  return { fromS: toDigits(of.fromS - span.fromS), toS: toDigits(of.toS - span.fromS) }
}

function present<T>(value: T | null | undefined): T {
  if (value === null || value === undefined) throw new Error('the example lacks a value a picture needs')
  return value
}

/** A tenth of a mm/s²: finer than any line drawn. */
const toTenthMm = (valueMs2: number) => Number(valueMs2.toFixed(4))
const toDigits = (value: number) => Number(value.toPrecision(4))
