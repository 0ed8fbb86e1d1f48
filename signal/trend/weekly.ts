import { median } from 'simple-statistics'

export const DAY_US = 86_400_000_000
const WEEK_DAYS = 7

/** 1 January 1970 was a Thursday, three days after a Monday. */
const EPOCH_DAYS_AFTER_MONDAY = 3

export const WEEK_US = WEEK_DAYS * DAY_US

/** A value with its moment, UTC µs. */
export interface DatedValue {
  readonly atUs: number
  readonly value: number
}

/** One calendar week with at least one value. */
export interface WeeklyValue {
  /** Weeks since the one that holds 1 January 1970; neighbours differ by 1. */
  readonly week: number
  /** Monday 00:00, UTC µs. */
  readonly startUs: number
  /** Median of the week's values, in their unit. */
  readonly value: number
  readonly sessions: number
}

/**
 * Number of the calendar week, Monday to Sunday as in ISO 8601, that holds a moment in UTC; 0 holds
 * 1 January 1970. For weeks of another time zone, add its offset to `atUs` first.
 */
export function weekOf(atUs: number): number {
  return Math.floor((Math.floor(atUs / DAY_US) + EPOCH_DAYS_AFTER_MONDAY) / WEEK_DAYS)
}

/**
 * One value per calendar week: the median of its sessions, weeks in ascending order. A week without a
 * session stays missing; `week` shows the hole. Sessions of one week resemble one another, and a test that
 * took them for independent would find trends too easily.
 *
 * @param values any order, any unit
 * @throws {RangeError} if a moment or value is not finite
 */
export function weeklyMedians(values: readonly DatedValue[]): WeeklyValue[] {
  const weeks = new Map<number, number[]>()
  for (const { atUs, value } of values) {
    if (!Number.isFinite(atUs) || !Number.isFinite(value)) {
      throw new RangeError(`weeklyMedians requires finite moments and values, got ${value} at ${atUs}`)
    }
    const week = weekOf(atUs)
    const members = weeks.get(week)
    if (members) members.push(value)
    else weeks.set(week, [value])
  }
  return [...weeks]
    .sort(([a], [b]) => a - b)
    .map(([week, members]) => ({
      week,
      startUs: (week * WEEK_DAYS - EPOCH_DAYS_AFTER_MONDAY) * DAY_US,
      value: median(members),
      sessions: members.length,
    }))
}
