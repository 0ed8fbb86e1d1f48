import type { TrendLine, TrendMarker } from '#protocol/trends'
import { date, dateAndTime } from '../format'
import type { Cursor } from './cursor'
import type { MeasureDisplay } from './measure-display'
import { dayText } from './time-axis'
import { leftOutReason, markerWords, partWords } from './words'

export interface CursorWords {
  /** What a screen reader says of the place itself. */
  readonly place: string
  /** The numbers there. */
  readonly text: string
  readonly sessionId: string | null
}

/** What the picture says where the reading cursor is. */
export function cursorWords(
  cursor: Cursor,
  line: TrendLine,
  markers: readonly TrendMarker[],
  display: MeasureDisplay,
): CursorWords {
  if ('marker' in cursor) {
    const marker = markers[cursor.marker]
    const place = `${markerWords[marker.kind]}, ${markerDays(marker)}`
    return { place, text: `${place}: ${marker.words}`, sessionId: marker.sessionId ?? null }
  }
  const k = cursor.session
  const { startedAtUs, value, part } = line.trend.sessions[k]
  const iso = new Date(startedAtUs / 1000).toISOString()
  const reason = leftOutReason(line, k)
  const parts = [
    value === null ? 'no value' : display.text(value),
    reason === null ? partWords[part] : `left out: ${reason}`,
    ewmaWords(line, k, display),
  ].filter((words) => words !== null)
  return {
    place: `session ${k + 1} of ${line.trend.sessions.length}, ${date(iso)}`,
    text: `${dateAndTime(iso)}: ${parts.join('; ')}`,
    sessionId: line.sessionIds[k],
  }
}

/** "3 Mar 2026", "3 Mar to 9 Apr 2026", "since 3 Mar 2026" */
export function markerDays({ kind, fromDate, untilDate }: TrendMarker): string {
  if (untilDate !== null && untilDate !== fromDate) return `${dayText(fromDate)} to ${dayText(untilDate)}`
  return kind === 'medication' && untilDate === null ? `since ${dayText(fromDate)}` : dayText(fromDate)
}

/** Of a session that counts, what the running average says after it. */
function ewmaWords({ trend, ewma }: TrendLine, k: number, display: MeasureDisplay): string | null {
  const counts = (at: number) => !['left out', 'familiarisation'].includes(trend.sessions[at].part)
  if (ewma === null || !counts(k)) return null
  let place = 0
  for (let at = 0; at < k; at++) if (counts(at)) place++
  const held = ewma.outside.includes(place) ? 'outside' : 'within'
  return `running average ${display.text(ewma.ewma[place])}, ${held} its limits`
}
