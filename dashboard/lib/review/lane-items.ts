import type { SessionEdits } from '#protocol/session-review'
import { wordsOfMark } from './edit-document'
import type { ShownHold } from './shown-holds'
import { timeWords } from './time-words'

export const LANES = ['hands', 'repetitions', 'holds', 'other'] as const
export type Lane = (typeof LANES)[number]

export const laneWords: Record<Lane, string> = {
  hands: 'Hands',
  repetitions: 'Rep.',
  holds: 'Holds',
  other: 'Other',
}

/** Something with a time that a person can take and move. */
export interface LaneItem {
  readonly key: string
  readonly lane: Lane
  readonly atS: number
  /** Of a mark. */
  readonly markId: string | null
  /** Of an edge: its hold and which end. */
  readonly holdKey: string | null
  readonly side: 'from' | 'to' | null
  /** A left-out hold stands still until it is brought back. */
  readonly fixed: boolean
  /** "Hold 2 begins, set by a person". */
  readonly words: string
}

const LANE_OF: Record<string, Lane> = {
  'support-on': 'hands',
  'support-off': 'hands',
  'repetition-start': 'repetitions',
  'repetition-end': 'repetitions',
}

export const laneOfMark = (kind: string): Lane => LANE_OF[kind] ?? 'other'

/** All of them in order of time: the order of the arrow keys. */
export function laneItems(doc: SessionEdits, holds: readonly ShownHold[]): LaneItem[] {
  const marks = doc.marks.map((mark): LaneItem => ({
    key: `mark-${mark.id}`,
    lane: laneOfMark(mark.kind),
    atS: mark.atS,
    markId: mark.id,
    holdKey: null,
    side: null,
    fixed: false,
    words: capitalised(wordsOfMark(mark)),
  }))
  const edges = holds.flatMap((hold) => (['from', 'to'] as const).map((side) => edgeItem(hold, side)))
  return [...marks, ...edges].sort((a, b) => a.atS - b.atS || a.key.localeCompare(b.key))
}

export const edgeKey = (holdKey: string, side: 'from' | 'to'): string => `${side}-${holdKey}`

function edgeItem(hold: ShownHold, side: 'from' | 'to'): LaneItem {
  return {
    key: edgeKey(hold.key, side),
    lane: 'holds',
    atS: side === 'from' ? hold.fromS : hold.toS,
    markId: null,
    holdKey: hold.key,
    side,
    fixed: hold.leftOut !== null,
    words: `${capitalised(hold.name)} ${side === 'from' ? 'begins' : 'ends'}, ${stateWords(hold)}`,
  }
}

/** "found", "set by a person", "left out: slipped". */
export function stateWords(hold: ShownHold): string {
  if (hold.leftOut) return `left out${hold.leftOut.reason ? `: ${hold.leftOut.reason}` : ''}`
  return hold.origin === 'set' ? 'set by a person' : 'found'
}

/** What a screen reader says of it: words and time. */
export const itemLabel = (item: LaneItem, atS: number): string => `${item.words}, ${timeWords(atS)}`

const capitalised = (words: string) => words.charAt(0).toUpperCase() + words.slice(1)
