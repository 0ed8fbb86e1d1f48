import type { NewTrendSettings, TrendSettings } from '#protocol/trends'
import type { Author, Changed, Precondition } from './changes.ts'

/** Sessions that make a baseline unless somebody says otherwise (common practice, no source). */
const BASELINE_SESSIONS = 5

/** How the trends of a dog are read until somebody has said: version 0. */
export const FIRST_TREND_SETTINGS: TrendSettings = {
  familiar: [],
  withLookAlikes: [],
  baselineSessions: BASELINE_SESSIONS,
  version: 0,
}

export interface TrendSettingsRecords {
  /** Null without such a dog. */
  settings(dogId: string): Promise<TrendSettings | null>
  /** Version 0 counts as a version: the precondition is told 0, not null. */
  set(
    dogId: string,
    settings: NewTrendSettings,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<TrendSettings>>
}
