import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { expect, it } from 'vitest'
import { addDays, isTimeZone, localDay, mondayOf, weekdayOf } from '#protocol/local-week'

interface Row {
  at: string
  timeZone: string
  day: string
  monday: string
  isoWeekday: number
}
const committed = fileURLToPath(new URL('./vectors/local_weeks.json', import.meta.url))
const script = fileURLToPath(new URL('./scripts/local_weeks.py', import.meta.url))
const { rows } = JSON.parse(readFileSync(committed, 'utf8')) as { rows: Row[] }

it('days and Mondays are those of Python’s zoneinfo and isocalendar, also where clocks change', () => {
  expect(rows.length).toBeGreaterThan(500)
  for (const { at, timeZone, day, monday, isoWeekday } of rows) {
    const own = localDay(at, timeZone)
    expect([own, mondayOf(own), weekdayOf(own) + 1], `${at} in ${timeZone}`).toEqual([
      day,
      monday,
      isoWeekday,
    ])
  }
})

it('weeks are those of ISO 8601 at the borders of years', () => {
  // Examples of ISO 8601:2004 clause 4.1.4 as its readers repeat them, from memory: 2008-12-29 is 2009-W01-1,
  // 2010-01-03 is 2009-W53-7, 2005-01-01 is 2004-W53-6.
  expect([mondayOf('2008-12-29'), weekdayOf('2008-12-29')]).toEqual(['2008-12-29', 0])
  expect([mondayOf('2010-01-03'), weekdayOf('2010-01-03')]).toEqual(['2009-12-28', 6])
  expect([mondayOf('2005-01-01'), weekdayOf('2005-01-01')]).toEqual(['2004-12-27', 5])
  expect(addDays('2024-02-28', 2)).toBe('2024-03-01')
  expect(addDays('2026-01-01', -1)).toBe('2025-12-31')
})

it('names of zones are known, offsets and inventions are not', () => {
  for (const name of ['UTC', 'Europe/Berlin', 'America/Argentina/Buenos_Aires', 'Etc/GMT+5']) {
    expect(isTimeZone(name), name).toBe(true)
  }
  for (const name of ['', '+02:00', 'Europe/Atlantis', 'Europe/Berlin; --', 'null']) {
    expect(isTimeZone(name), name).toBe(false)
  }
  expect(() => localDay(0, 'Europe/Atlantis')).toThrow(RangeError)
  expect(() => localDay('no date', 'UTC')).toThrow(RangeError)
})

const made =
  spawnSync('python3', ['-c', 'from zoneinfo import ZoneInfo; ZoneInfo("Pacific/Apia")']).status === 0
it.skipIf(!made && !process.env.CI)('the committed rows come out of the script again', () => {
  const folder = mkdtempSync(join(tmpdir(), 'local-weeks-'))
  try {
    const file = join(folder, 'rows.json')
    const run = spawnSync('python3', [script, file], { encoding: 'utf8' })
    expect(run.status, run.stderr).toBe(0)
    expect(JSON.parse(readFileSync(file, 'utf8')).rows).toEqual(rows)
  } finally {
    rmSync(folder, { recursive: true })
  }
})
