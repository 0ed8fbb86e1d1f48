import type { TimeRange } from '../time-range'
import type { Lane, LaneItem } from './lane-items'
import { onFinestGrid } from './time-words'

/** The picture above leaves this much for its axis and at its end, px: both share one axis of time. */
export const AXIS_PX = 64
export const END_PX = 8
export const LANE_PX = 40

/** Where seconds lie across the lanes. */
export interface TimeScale {
  readonly range: TimeRange
  readonly widthPx: number
}

export const pxOf = (atS: number, { range, widthPx }: TimeScale): number =>
  AXIS_PX + ((atS - range.fromS) / (range.toS - range.fromS)) * Math.max(1, widthPx - AXIS_PX - END_PX)

export const secondsOf = (px: number, { range, widthPx }: TimeScale): number =>
  range.fromS + ((px - AXIS_PX) / Math.max(1, widthPx - AXIS_PX - END_PX)) * (range.toS - range.fromS)

/** Half of the least width of a target, px (WCAG 2.2, 2.5.8: 24 by 24). */
const REACH_PX = 14
/** How far the handles of the chosen hold reach outwards, px. */
export const HANDLE_PX = 30

/**
 * What a pointer takes at a place in a lane: of the handles of the chosen hold, which lie outside it, the one
 * under the pointer, else the nearest thing in reach; null for an empty place.
 */
export function itemUnder(
  items: readonly LaneItem[],
  lane: Lane,
  px: number,
  scale: TimeScale,
  chosenHold: string | null,
): LaneItem | null {
  const here = items.filter((item) => item.lane === lane)
  const handle = here.find((item) => {
    if (item.holdKey === null || item.holdKey !== chosenHold || item.fixed) return false
    const outwardsPx = (px - pxOf(item.atS, scale)) * (item.side === 'from' ? -1 : 1)
    return outwardsPx >= -4 && outwardsPx <= HANDLE_PX
  })
  if (handle) return handle
  let nearest: LaneItem | null = null
  let leastPx = REACH_PX
  for (const item of here) {
    const distancePx = Math.abs(px - pxOf(item.atS, scale))
    // A narrow hold is chosen as a whole first; its handles then have room.
    if (item.holdKey !== null && isNarrow(here, item.holdKey, scale)) continue
    if (distancePx <= leastPx && !item.fixed) {
      nearest = item
      leastPx = distancePx
    }
  }
  return nearest
}

function isNarrow(items: readonly LaneItem[], holdKey: string, scale: TimeScale): boolean {
  const [from, to] = items.filter((item) => item.holdKey === holdKey)
  return Math.abs(pxOf(to.atS, scale) - pxOf(from.atS, scale)) < 3 * REACH_PX
}

const SNAP_PX = 8

/**
 * The time a dragged thing takes: with `snap` that of something near by, else the nearest 0.1 s; without it
 * the finest step. Kept inside the limits.
 */
export function placedAt(
  px: number,
  scale: TimeScale,
  limits: { minS: number; maxS: number },
  snap: { readonly toS: readonly number[] } | null,
): number {
  const rawS = secondsOf(px, scale)
  const atS = snap ? (nearBy(rawS, px, scale, snap.toS) ?? Math.round(rawS * 10) / 10) : onFinestGrid(rawS)
  return Math.min(limits.maxS, Math.max(limits.minS, atS))
}

function nearBy(rawS: number, px: number, scale: TimeScale, timesS: readonly number[]): number | null {
  let nearest: number | null = null
  for (const atS of timesS) {
    if (Math.abs(pxOf(atS, scale) - px) > SNAP_PX) continue
    if (nearest === null || Math.abs(atS - rawS) < Math.abs(nearest - rawS)) nearest = atS
  }
  return nearest
}

/** Seconds a key moves a thing: 0.1, with Shift 1, with Alt the finest step; null for another key. */
export function stepOfKey(event: Pick<KeyboardEvent, 'key' | 'shiftKey' | 'altKey'>): number | null {
  if (event.key === ',' || event.key === '.') return event.key === ',' ? -0.02 : 0.02
  if (event.key !== 'ArrowLeft' && event.key !== 'ArrowRight') return null
  const sizeS = event.shiftKey ? 1 : event.altKey ? 0.02 : 0.1
  return event.key === 'ArrowLeft' ? -sizeS : sizeS
}

/** A time moved by a step, on the finest grid, inside the limits. */
export const stepped = (atS: number, byS: number, limits: { minS: number; maxS: number }): number =>
  Math.min(limits.maxS, Math.max(limits.minS, onFinestGrid(atS + byS)))
