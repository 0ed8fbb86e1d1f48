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
      // From a marker: to the first session that is not before it.
      return to(here === null ? 0 : cursor !== null && 'marker' in cursor ? here : here + 1)
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
  // A marker is of its whole day: the one of the session's own day comes next.
  const next = markers.findIndex(({ fromDate }) => Date.parse(fromDate) + 864e5 > atMs)
  const after = next === -1 ? markers.length : next
  return { marker: Math.min(markers.length - 1, Math.max(0, step > 0 ? after : after - 1)) }
}

/** The session the cursor is at, or the first one not before its marker. */
export function sessionOf(cursor: Cursor, line: TrendLine, markers: readonly TrendMarker[]): number {
  if ('session' in cursor) return cursor.session
  return firstSessionFrom(line, Date.parse(markers[cursor.marker].fromDate) * 1000)
}

/** The session whose start is nearest to a moment. */
export function nearestSession(line: TrendLine, atMs: number): number {
  const { sessions } = line.trend
  const atUs = atMs * 1000
  const next = firstSessionFrom(line, atUs)
  if (next === 0) return 0
  return atUs - sessions[next - 1].startedAtUs < sessions[next].startedAtUs - atUs ? next - 1 : next
}

/** By halving, since sessions are in the order of their start; the last one when all are earlier. */
function firstSessionFrom({ trend: { sessions } }: TrendLine, atUs: number): number {
  let low = 0
  let high = sessions.length - 1
  while (low < high) {
    const middle = (low + high) >> 1
    if (sessions[middle].startedAtUs < atUs) low = middle + 1
    else high = middle
  }
  return low
}
