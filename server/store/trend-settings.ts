import type { NewTrendSettings, TrendSettings } from '#protocol/trends'
import { DEFAULT_TREND_SETTINGS } from '../trends/trends.ts'
import type { Author, Changed, Precondition } from './changes.ts'

/** How the trends of a dog are read until somebody has said. */
export const FIRST_TREND_SETTINGS: TrendSettings = { ...DEFAULT_TREND_SETTINGS, version: 0 }

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
