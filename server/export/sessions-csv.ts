import type { SessionSummary } from '#protocol/resources'
import { csvText } from '../csv-text.ts'
import type { CsvValue } from '../csv-text.ts'
import type { HoldsByPerson } from './holds-by-person.ts'

/** A session and what its row tells beside its summary. */
export interface SessionRow extends SessionSummary {
  readonly byPerson: HoldsByPerson | null
}

const COLUMNS: readonly (readonly [string, (session: SessionRow) => CsvValue | undefined])[] = [
  ['session_id', ({ id }) => id],
  ['started_at_utc', ({ startedAt }) => startedAt],
  ['state', ({ state }) => state],
  ['problem', ({ problem }) => problem],
  ['sensor', ({ sensor }) => sensor],
  ['file_name', ({ fileName }) => fileName],
  ['exercise', ({ setUp }) => setUp?.exercise],
  ['surface', ({ setUp }) => setUp?.surface],
  ['fore_to_hind_cm', ({ setUp }) => setUp?.foreToHindCm],
  ['left_to_right_cm', ({ setUp }) => setUp?.leftToRightCm],
  ['height_cm', ({ setUp }) => setUp?.heightCm],
  ['firmness', ({ setUp }) => setUp?.firmness],
  ['unstable', ({ setUp }) => setUp?.unstable],
  ['set_up_confirmed_at', ({ setUpConfirmedAt }) => setUpConfirmedAt],
  ['mount', ({ mount }) => mount],
  ['plan_version', ({ planned }) => planned?.planVersion],
  ['plan_exercise_id', ({ planned }) => planned?.exerciseId],
  ['duration_s', ({ durationS }) => durationS],
  ['rate_hz', ({ rateHz }) => rateHz],
  ['signal_quality', ({ verdict }) => verdict],
  ['holds', ({ holds }) => holds],
  ['holds_set_by_a_person', ({ byPerson }) => byPerson?.set],
  ['holds_left_out_by_a_person', ({ byPerson }) => byPerson?.leftOut],
  ['hold_s', ({ holdS }) => holdS],
  ['hands_off_hold_s', ({ handsOffHoldS }) => handsOffHoldS],
  ['best_hold_s', ({ bestHoldS }) => bestHoldS],
  ['repetitions', ({ repetitions }) => repetitions],
  ['support_share', ({ supportShare }) => supportShare],
  ['sway_rms_ms2', ({ swayMs2 }) => swayMs2],
  ['tremor_rms_ms2', ({ tremorMs2 }) => tremorMs2],
  ['comparable_sway_rms_ms2', ({ comparableSwayMs2 }) => comparableSwayMs2],
  ['comparable_tremor_rms_ms2', ({ comparableTremorMs2 }) => comparableTremorMs2],
  ['sway_last_over_first', ({ fatigueRatio }) => fatigueRatio],
  ['plan_warnings', ({ planWarnings }) => planWarnings],
  ['check_in', ({ checkIn }) => checkIn?.answer],
  ['check_in_note', ({ checkIn }) => checkIn?.note],
  ['check_in_at', ({ checkIn }) => checkIn?.at],
  ['excluded_because', ({ excluded }) => excluded?.reason],
  ['analysis_version', ({ analysisVersion }) => analysisVersion],
]

/** One row a session, for people and their spreadsheets; empty where nothing is known. */
export function sessionsCsv(sessions: readonly SessionRow[]): string {
  return csvText([
    COLUMNS.map(([name]) => name),
    ...sessions.map((session) => COLUMNS.map(([, value]) => value(session) ?? null)),
  ])
}
