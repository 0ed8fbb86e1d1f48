import type { TrendLine, TrendMarker } from '#protocol/trends'

/** Where the reading cursor of a picture is: at a session, or at a marker of the axis. */
export type Cursor = { readonly session: number } | { readonly marker: number }

const PAGE = 10

/** The cursor after a key; null when the key is none of its own. Left and right: sessions, up and down: markers. */
export function cursorAfter(
  key: string,
  cursor: Cursor | null,
  line: TrendLine,
  markers: readonly TrendMarker[],
): Cursor | null {
  const last = line.trend.sessions.length - 1
  const here = cursor === null ? null : sessionOf(cursor, line, markers)
  const to = (k: number): Cursor => ({ session: Math.min(last, Math.max(0, k)) })
  switch (key) {
    case 'ArrowRight':
      return to(here === null ? 0 : here + 1)
    case 'ArrowLeft':
      return to(here === null ? last : here - 1)
    case 'PageDown':
      return to((here ?? 0) + PAGE)
    case 'PageUp':
      return to((here ?? last) - PAGE)
    case 'Home':
      return to(0)
    case 'End':
      return to(last)
    case 'ArrowDown':
    case 'ArrowUp':
      return markers.length === 0 ? null : markerAfter(key === 'ArrowDown' ? 1 : -1, cursor, line, markers)
    default:
      return null
  }
}

function markerAfter(
  step: 1 | -1,
  cursor: Cursor | null,
  line: TrendLine,
  markers: readonly TrendMarker[],
): Cursor {
  if (cursor !== null && 'marker' in cursor) {
    return { marker: Math.min(markers.length - 1, Math.max(0, cursor.marker + step)) }
  }
  if (cursor === null) return { marker: step > 0 ? 0 : markers.length - 1 }
  const atMs = line.trend.sessions[cursor.session].startedAtUs / 1000
  const next = markers.findIndex(({ fromDate }) => Date.parse(fromDate) >= atMs)
  const after = next === -1 ? markers.length : next
  return { marker: Math.min(markers.length - 1, Math.max(0, step > 0 ? after : after - 1)) }
}

/** The session the cursor is at, or the first one not before its marker. */
export function sessionOf(cursor: Cursor, line: TrendLine, markers: readonly TrendMarker[]): number {
  if ('session' in cursor) return cursor.session
  return nearestSession(line, Date.parse(markers[cursor.marker].fromDate))
}

/** By halving: sessions are in the order of their start. */
export function nearestSession({ trend: { sessions } }: TrendLine, atMs: number): number {
  const atUs = atMs * 1000
  let low = 0
  let high = sessions.length - 1
  while (low < high) {
    const middle = (low + high) >> 1
    if (sessions[middle].startedAtUs < atUs) low = middle + 1
    else high = middle
  }
  if (low === 0) return 0
  return atUs - sessions[low - 1].startedAtUs < sessions[low].startedAtUs - atUs ? low - 1 : low
}
