import type { AuditEntry } from '#protocol/diary'
import { dayWords } from './day-words'
import { clock, dateAndTime, decimal, duration } from './format'
import { EVENT_VALUES, EVENT_WORDS } from './people/event-words'

const THINGS: Record<string, string> = {
  dog: 'the dog',
  plan: 'the plan',
  session: 'a session',
  'check-in': 'a check-in',
  mark: 'a mark',
  edits: 'marks and holds of a session',
  'repetition-note': 'a note on a repetition',
  'diary-entry': 'a diary entry',
  'trend-settings': 'the trend settings',
  'sign-in': 'a sign-in',
  person: 'an account',
  invitation: 'an invitation',
  role: 'a role',
  share: 'a link to look',
}

const DONE: Record<string, string> = {
  created: 'Set up',
  added: 'Added',
  set: 'Set',
  changed: 'Changed',
  removed: 'Removed',
  deleted: 'Deleted',
  excluded: 'Left out of trends:',
  included: 'Taken into trends again:',
  imported: 'Imported',
  exported: 'Exported',
}

/** Those that read better in words of their own. */
const WHOLE: Record<string, string> = {
  ...EVENT_WORDS,
  'session.created': 'Began or added a session',
  'session.finished': 'Ended a recording at what had arrived',
  'session.reanalysed': 'Measured a session anew, by another version or settings',
  'session.pairing-opened': 'Let another device record a session',
  'session.paired': 'Was let in to record a session',
  'session.set-up-confirmed': 'Said that the set-up was as noted',
  'session.set-up-unconfirmed': 'Took back that the set-up was as noted',
}

/** What was done, in words: "Changed the plan". An action of a newer server is given by its own name. */
export function auditWords({ action }: Pick<AuditEntry, 'action'>): string {
  if (Object.hasOwn(WHOLE, action)) return WHOLE[action]
  const [thing, done] = action.split('.')
  if (!done || !Object.hasOwn(THINGS, thing)) return action
  return Object.hasOwn(DONE, done) ? `${DONE[done]} ${THINGS[thing]}` : `${THINGS[thing]}: ${done}`
}

/**
 * What it was and what it is, one line a field; empty when the entry says no more than its action. Only
 * what can be read in a line: whole documents are left to the export.
 */
export function auditDetails(detail: unknown): string[] {
  if (!isRecord(detail)) return []
  const { before, after, ...others } = rolesNamed(detail)
  const lines = Object.entries(others).flatMap(([name, value]) => {
    const said = short(name, value)
    return said === null || name === 'id' || name.endsWith('Id') ? [] : [`${fieldWords(name)}: ${said}`]
  })
  if (!isRecord(before) && !isRecord(after)) return lines
  const fields = new Set([
    ...Object.keys(isRecord(before) ? before : {}),
    ...Object.keys(isRecord(after) ? after : {}),
  ])
  for (const name of fields) {
    const was = isRecord(before) ? short(name, before[name]) : null
    const is = isRecord(after) ? short(name, after[name]) : null
    if ((was === null && is === null) || was === is || name === 'id' || name.endsWith('Id')) continue
    if (!isRecord(after)) lines.push(`${fieldWords(name)}: was ${was}`)
    else lines.push(`${fieldWords(name)}: ${was ?? 'nothing'} → ${is ?? 'nothing'}`)
  }
  return lines
}

/** A role before and after is a value of its own, not a record with fields. */
function rolesNamed(detail: Record<string, unknown>): Record<string, unknown> {
  const named = (value: unknown) => (typeof value === 'string' ? { role: value } : value)
  return { ...detail, before: named(detail.before), after: named(detail.after) }
}

const isRecord = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value)

const FIELDS: Record<string, string> = {
  bornYear: 'year of birth',
  startedAt: 'date and time',
  fromDate: 'first day',
  untilDate: 'last day',
  expiresAt: 'works until',
  person: 'who',
  left: 'recovery codes left',
  signInName: 'sign-in name',
}
const UNITS: Record<string, string> = { Kg: 'kg', Cm: 'cm', Hz: 'Hz', Ms2: 'm/s²' }

/** `weightKg` as "weight in kg", `atS` as "at". */
function fieldWords(name: string): string {
  if (Object.hasOwn(FIELDS, name)) return FIELDS[name]
  const unit = /(Kg|Cm|Hz|Ms2|S)$/.exec(name)?.[1] ?? ''
  const plain = name.slice(0, name.length - unit.length)
  const words = plain.replace(/([a-z])([A-Z])/g, '$1 $2').toLowerCase()
  return Object.hasOwn(UNITS, unit) ? `${words} in ${UNITS[unit]}` : words
}

/** Moments of a recording; other fields in seconds are lengths. */
const MOMENTS = new Set(['atS', 'fromS', 'toS'])
const INSTANT = /^\d{4}-\d\d-\d\dT\d\d:\d\d/
const DAY = /^\d{4}-\d\d-\d\d$/

/** "1:04.4" */
function moment(valueS: number): string {
  const tenths = Math.max(0, Math.round(valueS * 10))
  return `${clock(Math.floor(tenths / 10))}${decimal((tenths % 10) / 10, 1).slice(1)}`
}

function numberWords(name: string, value: number): string {
  if (MOMENTS.has(name)) return moment(value)
  if (/[a-z]S$/.test(name)) return duration(value)
  return new Intl.NumberFormat(undefined, { maximumFractionDigits: 3, useGrouping: false }).format(value)
}

function textWords(value: string): string | null {
  if (!Number.isNaN(Date.parse(value))) {
    if (INSTANT.test(value)) return dateAndTime(value)
    if (DAY.test(value)) return dayWords(value)
  }
  return value.length > LONGEST ? `${value.slice(0, LONGEST)}…` : value || null
}

const LONGEST = 80

function valueWords(name: string, value: string): string | null {
  const words = Object.hasOwn(EVENT_VALUES, name) ? EVENT_VALUES[name] : {}
  return Object.hasOwn(words, value) ? words[value] : null
}

function short(name: string, value: unknown): string | null {
  if (typeof value === 'string') return valueWords(name, value) ?? textWords(value)
  if (typeof value === 'number') return numberWords(name, value)
  if (typeof value === 'boolean') return value ? 'yes' : 'no'
  return null
}
