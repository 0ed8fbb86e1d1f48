/**
 * The shape of `analyse --json`, written from its documentation and not from the code: every documented
 * key, what else may stand beside it (`extra`), and which values may be missing without a reason.
 */
export type Shape =
  | 'number'
  | 'string'
  | 'boolean'
  | { readonly oneOf: readonly string[] }
  | { readonly maybe: Shape }
  | { readonly list: Shape; readonly length?: number }
  | { readonly keys: Readonly<Record<string, Shape>>; readonly extra?: Readonly<Record<string, Shape>> }

const maybe = (shape: Shape): Shape => ({ maybe: shape })
const list = (shape: Shape, length?: number): Shape => ({ list: shape, length })
const REASON = { reason: 'string' } as const
const measure = maybe('number')
const perAxis: Shape = { keys: { ml: measure, cc: measure }, extra: REASON }

const sway: Shape = {
  keys: {
    rms: { keys: { ml: measure, cc: measure, dv: 'number', horizontal: 'number' }, extra: REASON },
    range: perAxis,
    path: 'number',
    pathRate: 'number',
    jerk: 'number',
    ellipse: {
      keys: { area: 'number', major: 'number', minor: 'number', angleDeg: measure },
      extra: { ...REASON, n: 'number', convention: 'string' },
    },
    spectral: {
      keys: { totalPower: perAxis, f50Hz: perAxis, f95Hz: perAxis, centroidHz: perAxis, dispersion: perAxis },
      extra: REASON,
    },
    rmsInterval: maybe(list('number', 2)),
  },
  extra: {
    ...REASON,
    steadinessRatio: measure,
    degrees: {
      keys: { pitchRmsDeg: measure, rollRmsDeg: measure, tiltRmsDeg: 'number' },
      extra: REASON,
    },
  },
}

const band: Shape = {
  keys: {
    fromHz: 'number',
    toHz: 'number',
    power: measure,
    rms: measure,
    peakHz: measure,
    peakWidthHz: measure,
    distinct: 'boolean',
    lookalike: maybe({ oneOf: ['panting', 'tail wag', 'handling'] }),
  },
  extra: { ...REASON, name: 'string' },
}

const hold: Shape = {
  keys: {
    fromS: 'number',
    toS: 'number',
    durationS: 'number',
    handsOffS: measure,
    endedBy: { oneOf: ['step', 'tilt', 'signal lost', 'end of recording', 'interval'] },
    sway,
    tremor: { keys: { bands: list(band) } },
  },
  extra: { ...REASON, role: { oneOf: ['exercise', 'quiet stand'] }, setBy: { oneOf: ['person'] } },
}

const repetition: Shape = {
  keys: { fromS: 'number', toS: 'number', holdS: 'number', handsOffS: measure, swayRms: measure },
  extra: REASON,
}

const comparable: Shape = {
  keys: {
    pieceS: 'number',
    pieces: 'number',
    basis: { oneOf: ['hands-off hold time', 'all hold time'] },
    swayRms: measure,
    pathRate: measure,
    jerk: measure,
    tremorRms: measure,
    steadinessRatio: measure,
    weak: 'boolean',
  },
  extra: REASON,
}

export const REPORT_SHAPE: Shape = {
  keys: {
    version: 'string',
    trace: {
      keys: {
        file: maybe('string'),
        samples: 'number',
        rateHz: 'number',
        durationS: 'number',
        unit: { oneOf: ['g', 'mg', 'm/s2'] },
        startedAt: maybe('string'),
      },
    },
    quality: {
      keys: {
        verdict: { oneOf: ['good', 'usable', 'poor'] },
        reasons: list('string'),
        gaps: list({ keys: { fromS: 'number', toS: 'number' } }),
        jitterSdS: 'number',
        clippedSamples: 'number',
        duplicates: 'number',
        unusedSamples: 'number',
      },
      extra: {
        effectiveRateHz: 'number',
        jitterMaxS: 'number',
        flatSamples: 'number',
        coverage: 'number',
        noiseFloorMs2: measure,
        resolutionMs2: 'number',
        clock: {
          keys: { rateHz: 'number', nominalRateHz: 'number', driftPpm: measure, basis: 'string' },
          extra: { ...REASON, offsetS: measure, residualS: measure },
        },
      },
    },
    mount: {
      keys: {
        source: { oneOf: ['identity', 'declared', 'auto'] },
        gravity: 'number',
        rotation: list(list('number', 3), 3),
        headingResolved: 'boolean',
        shiftDeg: measure,
      },
      extra: {
        ...REASON,
        shiftedAtS: measure,
        reference: maybe({ keys: { fromS: 'number', toS: 'number', basis: 'string' } }),
      },
    },
    holds: list(hold),
    session: {
      keys: {
        handsOffHoldS: measure,
        bestHoldS: measure,
        fatigue: { keys: { slopePerRepetition: measure, lastOverFirst: measure }, extra: REASON },
        planWarnings: list('string'),
        limitsBasis: 'string',
      },
      extra: {
        ...REASON,
        supportShare: measure,
        repetitions: list(repetition),
        repetitionBasis: 'string',
        comparable,
        leftOutHolds: list({ keys: { fromS: 'number', toS: 'number', reason: maybe('string') } }),
        unusedCorrections: list({
          keys: { kind: { oneOf: ['set', 'leave out'] }, fromS: 'number', toS: 'number', why: 'string' },
        }),
      },
    },
  },
}

/**
 * Null here is an answer, not a missing measure: the file names no start, came from standard input,
 * resembles nothing, did not shift, was left out without a word.
 */
const NULL_IS_AN_ANSWER =
  /^trace\.(file|startedAt)$|\.leftOutHolds\[\d+\]\.reason$|\.lookalike$|^mount\.shiftedAtS$/

/** What is wrong with a report, one line per finding; empty when it has the documented shape. */
export function shapeProblems(report: unknown): string[] {
  const problems: string[] = []
  check(report, REPORT_SHAPE, '', [], problems)
  return problems
}

type Json = Readonly<Record<string, unknown>>

function check(
  value: unknown,
  shape: Shape,
  path: string,
  within: readonly Json[],
  problems: string[],
): void {
  const wrong = (what: string) => problems.push(`${path || 'report'}: ${what}, got ${JSON.stringify(value)}`)
  if (typeof shape === 'string') {
    const fits = shape === 'number' ? Number.isFinite(value) : typeof value === shape
    if (!fits) wrong(`not a ${shape === 'number' ? 'finite number' : shape}`)
  } else if ('oneOf' in shape) {
    if (!shape.oneOf.includes(value as string)) wrong(`none of ${shape.oneOf.join(', ')}`)
  } else if ('maybe' in shape) {
    if (value !== null) check(value, shape.maybe, path, within, problems)
    else if (!NULL_IS_AN_ANSWER.test(path) && !within.slice(-2).some(hasReason))
      wrong('null without a reason')
  } else if ('list' in shape) {
    if (!Array.isArray(value)) return void wrong('not a list')
    if (shape.length !== undefined && value.length !== shape.length) wrong(`not ${shape.length} long`)
    value.forEach((item, i) => check(item, shape.list, `${path}[${i}]`, within, problems))
  } else {
    if (typeof value !== 'object' || value === null || Array.isArray(value))
      return void wrong('not an object')
    const object = value as Json
    const at = (key: string) => (path ? `${path}.${key}` : key)
    for (const [key, inner] of Object.entries(shape.keys)) {
      if (key in object) check(object[key], inner, at(key), [...within, object], problems)
      else problems.push(`${at(key)}: missing`)
    }
    for (const key of Object.keys(object)) {
      if (key in shape.keys) continue
      const inner = shape.extra?.[key]
      if (inner) check(object[key], inner, at(key), [...within, object], problems)
      else problems.push(`${at(key)}: not documented`)
    }
  }
}

/** A reason in words; the quality gives its reasons as a list. */
function hasReason({ reason, reasons }: Json): boolean {
  return (typeof reason === 'string' && reason !== '') || (Array.isArray(reasons) && reasons.length > 0)
}
