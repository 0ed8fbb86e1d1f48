import type { HoldEnd } from '../report-types.ts'
import type { FoundHold } from './find-holds.ts'
import type { Span } from './support.ts'

/** A person's word on holds; seconds on the axis of the report. */
export interface HoldCorrection extends Span {
  /**
   * `set`: exactly [fromS, toS) is one hold, in place of every detected hold it overlaps. `leave out`: holds
   * whose middle lies in [fromS, toS), set ones too, count for nothing.
   */
  readonly kind: 'set' | 'leave out'
  readonly reason: string | null
}

/** A hold that counts for nothing because a person said so; `reason` is the person's. */
export interface LeftOutHold {
  fromS: number
  toS: number
  reason: string | null
}

/** A correction that changed nothing, and why. */
export interface UnusedCorrection {
  kind: HoldCorrection['kind']
  fromS: number
  toS: number
  why: string
}

export interface CorrectedHold extends FoundHold {
  readonly setBy?: 'person'
}

export interface CorrectedHolds {
  /** Ascending, never overlapping where the detected ones do not. */
  readonly holds: readonly CorrectedHold[]
  /** Ascending. */
  readonly leftOut: readonly LeftOutHold[]
  readonly unused: readonly UnusedCorrection[]
}

/** What a recording allows. */
export interface CorrectionRoom {
  readonly endS: number
  /** Why [fromS, toS) cannot be measured as a hold, or null when it can. */
  readonly obstacle: (span: Span) => string | null
}

/** A set hold may end this much after the recording, s: a tick of the detector, for axes measured again. */
const END_MARGIN_S = 0.1

/** Ends closer than this are one and the same, s: half a tick of the detector. */
const SAME_END_S = 0.05

/** Bounds of neighbours may touch with this much rounding, s. */
const TOUCH_S = 1e-6

/**
 * Detected holds with people's corrections: first the set ones take the place of what they overlap, then the
 * left-out ones go. The order of the list does not matter, and saying a thing twice is saying it once.
 *
 * A set hold that ends where one it replaces ended keeps what ended it, otherwise it ends as 'interval'. A
 * correction that does not fit (any more) is no error, since the axis of a recording may have been measured
 * again after it was made; it changes nothing and is given back with the reason: outside the recording, without
 * signal, across a shift of the harness, two set holds that overlap (nobody can say which is meant), or nothing
 * to leave out.
 */
export function correctHolds(
  found: readonly FoundHold[],
  corrections: readonly HoldCorrection[],
  room: CorrectionRoom,
): CorrectedHolds {
  const unused: UnusedCorrection[] = []
  const set = settable(corrections, room, unused)
  const holds: CorrectedHold[] = [
    ...found.filter((hold) => !set.some((span) => overlap(hold, span))),
    ...set.map(({ fromS, toS }): CorrectedHold => {
      const replaced = found.filter((hold) => overlap(hold, { fromS, toS }))
      return { fromS, toS, endedBy: endOf(toS, replaced), setBy: 'person' }
    }),
  ].sort((a, b) => a.fromS - b.fromS)

  const away = distinct(corrections.filter(({ kind }) => kind === 'leave out'))
  const reasons = new Map<CorrectedHold, (string | null)[]>()
  for (const span of away) {
    const inside = holds.filter((hold) => middleLiesIn(hold, span))
    for (const hold of inside) reasons.set(hold, [...(reasons.get(hold) ?? []), span.reason])
    if (inside.length === 0) unused.push(notUsed(span, 'no hold has its middle in it'))
  }
  return {
    holds: holds.filter((hold) => !reasons.has(hold)),
    leftOut: holds.flatMap((hold) => {
      const why = reasons.get(hold)
      return why ? [{ fromS: hold.fromS, toS: hold.toS, reason: joined(why) }] : []
    }),
    unused: unused.sort(byPlace),
  }
}

/** The set holds that fit, distinct and clipped to the recording; the others go to `unused`. */
function settable(
  corrections: readonly HoldCorrection[],
  { endS, obstacle }: CorrectionRoom,
  unused: UnusedCorrection[],
): HoldCorrection[] {
  const all = distinct(corrections.filter(({ kind }) => kind === 'set'))
  const fitting = all.flatMap((span) => {
    const clipped = { ...span, toS: Math.min(span.toS, endS) }
    const inside = span.fromS >= 0 && clipped.toS > span.fromS && span.toS <= endS + END_MARGIN_S
    const why = inside
      ? obstacle(clipped)
      : `it must lie within the recording, 0 to ${endS.toFixed(1)} s, and end after it begins`
    if (why !== null) unused.push(notUsed(span, why))
    return why === null ? [clipped] : []
  })
  return fitting.filter((span) => {
    const clash = fitting.some((other) => other !== span && overlap(other, span))
    if (clash) unused.push(notUsed(span, 'it overlaps another hold that was set'))
    return !clash
  })
}

/** In the order of time, each interval once; reasons of equal ones are joined. */
function distinct(corrections: readonly HoldCorrection[]): HoldCorrection[] {
  const same = new Map<string, HoldCorrection[]>()
  for (const one of corrections) {
    const key = `${one.fromS} ${one.toS}`
    same.set(key, [...(same.get(key) ?? []), one])
  }
  return [...same.values()]
    .map(([first, ...others]) => ({
      ...first,
      reason: joined([first, ...others].map(({ reason }) => reason)),
    }))
    .sort(byPlace)
}

function endOf(toS: number, replaced: readonly FoundHold[]): HoldEnd {
  return replaced.find((hold) => Math.abs(hold.toS - toS) <= SAME_END_S)?.endedBy ?? 'interval'
}

function overlap(a: Span, b: Span): boolean {
  return a.fromS < b.toS - TOUCH_S && b.fromS < a.toS - TOUCH_S
}

function middleLiesIn(hold: Span, { fromS, toS }: Span): boolean {
  const middle = (hold.fromS + hold.toS) / 2
  return middle >= fromS && middle < toS
}

function notUsed({ kind, fromS, toS }: HoldCorrection, why: string): UnusedCorrection {
  return { kind, fromS, toS, why }
}

function joined(reasons: readonly (string | null)[]): string | null {
  const words = [...new Set(reasons.filter((reason) => reason !== null && reason !== ''))].sort()
  return words.length > 0 ? words.join('; ') : null
}

function byPlace(a: Span, b: Span): number {
  return a.fromS - b.fromS || a.toS - b.toS
}
