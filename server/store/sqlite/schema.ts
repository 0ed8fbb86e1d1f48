import type { ColumnType, Generated } from 'kysely'
import type {
  InvitationsTable,
  PassesTable,
  PeopleTable,
  RecoveryCodesTable,
  RolesTable,
  SecurityEventsTable,
  SharesTable,
} from './people/people-schema.ts'

/** Tables as kysely sees them; the migrations make them. */
export interface Tables {
  dogs: DogsTable
  sessions: SessionsTable
  streams: StreamsTable
  sample_blocks: SampleBlocksTable
  lost_ranges: LostRangesTable
  marks: MarksTable
  reports: ReportsTable
  holds: HoldsTable
  plans: PlansTable
  check_ins: CheckInsTable
  repetition_notes: RepetitionNotesTable
  hold_edits: HoldEditsTable
  diary_entries: DiaryEntriesTable
  trend_settings: TrendSettingsTable
  audit: AuditTable
  people: PeopleTable
  recovery_codes: RecoveryCodesTable
  roles: RolesTable
  invitations: InvitationsTable
  shares: SharesTable
  passes: PassesTable
  security_events: SecurityEventsTable
}

export interface DogsTable {
  id: string
  name: string
  breed: string | null
  weight_kg: number | null
  withers_cm: number | null
  notes: string | null
  demo: 0 | 1
  created_at: string
  /** Raised by every change; what an ETag names. */
  version: Generated<number>
  born_year: number | null
}

export interface SessionsTable {
  id: string
  dog_id: string
  sensor: string
  file_name: string | null
  content_hash: string | null
  exercise: string | null
  surface: string | null
  mount: string
  state: 'recording' | 'analysing' | 'finished' | 'failed'
  started_at_us: number | null
  created_at: string
  /** Start, or creation while the start is unknown: the order of lists. */
  ordered_at_us: number
  duration_s: number | null
  rate_hz: number | null
  verdict: 'good' | 'usable' | 'poor' | null
  holds: number | null
  hold_s: number | null
  hands_off_hold_s: number | null
  best_hold_s: number | null
  sway_ms2: number | null
  tremor_ms2: number | null
  comparable_sway_ms2: number | null
  comparable_tremor_ms2: number | null
  analysis_version: string | null
  problem: string | null
  fore_to_hind_cm: number | null
  left_to_right_cm: number | null
  plan_version: number | null
  plan_exercise_id: string | null
  /** JSON. */
  sensor_description: string | null
  /** Seconds of the report per nominal second of the stream; null for 1. */
  time_scale: number | null
  /** Raised by every change a person makes to the session itself. */
  version: Generated<number>
  /** Raised by every change of its marks and corrected holds. */
  edits_version: Generated<number>
  /** Of the check-in that was removed last, 0 without any. */
  check_in_version: Generated<number>
  height_cm: number | null
  firmness: 'soft' | 'medium' | 'firm' | null
  unstable: 0 | 1 | null
  set_up_confirmed_at: string | null
  notes: string | null
  excluded_reason: string | null
  excluded_at: string | null
  repetitions: number | null
  support_share: number | null
  fatigue_ratio: number | null
  plan_warnings: number | null
  comparable_path_rate: number | null
  comparable_jerk: number | null
  comparable_ratio: number | null
  comparable_weak: 0 | 1 | null
  comparable_basis: 'hands-off hold time' | 'all hold time' | null
  look_alike: 0 | 1 | null
}

export interface StreamsTable {
  id: string
  session_id: string
  kind: 'live' | 'trace'
  columns: string
  rate_hz: number
  started_at_us: number | null
  resolution_ms2: number | null
  source: string | null
  next_index: ColumnType<number, number | undefined>
  complete: ColumnType<0 | 1, 0 | 1 | undefined>
}

export interface SampleBlocksTable {
  stream_id: string
  first_index: number
  count: number
  dtype: 'float32' | 'float64'
  /** `influx`: InfluxDB holds the samples, and `columns` is empty. */
  encoding: 'raw' | 'deflate' | 'influx'
  columns: Buffer
  /** Of the stored bytes; of the samples themselves where InfluxDB holds them (see row-checksum.ts). */
  crc32: number
  arrived_at_us: number | null
  /** When the packets arrived that the block was made of; null for a single packet. */
  arrivals: Buffer | null
}

export interface LostRangesTable {
  stream_id: string
  first_index: number
  count: number
}

export interface MarksTable {
  seq: Generated<number>
  session_id: string
  id: string
  at_s: number
  kind: string
  note: string | null
}

export interface ReportsTable {
  session_id: string
  report: string
  timeline: string
  analysis_version: string
  created_at: string
}

export interface HoldsTable {
  session_id: string
  hold_index: number
  from_s: number
  to_s: number
  hands_off_s: number | null
  ended_by: string
  sway_ms2: number
  tremor_ms2: number | null
  detail: string
}

export interface PlansTable {
  dog_id: string
  version: number
  /** `NewPlan` as JSON: a version is written once and read whole. */
  plan: string
  created_at: string
}

export interface CheckInsTable {
  session_id: string
  answer: 'tired' | 'sore' | 'normal' | 'better'
  note: string | null
  at: string
  version: Generated<number>
}

export interface RepetitionNotesTable {
  session_id: string
  id: string
  at_s: number
  stance: string | null
  /** JSON list of fatigue signs. */
  signs: string
  note: string | null
  version: number
  updated_at: string
}

export interface HoldEditsTable {
  session_id: string
  id: string
  kind: 'set' | 'leave out'
  from_s: number
  to_s: number
  reason: string | null
}

export interface DiaryEntriesTable {
  id: string
  dog_id: string
  kind: 'medication' | 'event' | 'note'
  /** YYYY-MM-DD. */
  from_date: string
  until_date: string | null
  title: string
  dose: string | null
  note: string | null
  version: number
  created_at: string
  updated_at: string
}

export interface TrendSettingsTable {
  dog_id: string
  /** `NewTrendSettings` as JSON. */
  settings: string
  version: number
}

export interface AuditTable {
  seq: Generated<number>
  at: string
  dog_id: string
  session_id: string | null
  actor: string
  action: string
  /** JSON: what it was and what it is. */
  detail: string
  /** The account of the actor, as long as it is here. */
  actor_id: string | null
}
