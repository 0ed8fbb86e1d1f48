import { addDays, localDay } from '#protocol/local-week'
import type { SessionSummary } from '#protocol/resources'
import type { RepetitionNotesFile } from '../archive-files.ts'
import type { SessionArchive } from '../../store/archives.ts'
import { holdsByPerson } from '../holds-by-person.ts'
import type { HoldsByPerson } from '../holds-by-person.ts'
import type { Corrections } from './amended.ts'
import { measuresOf, quantity } from './measures.ts'
import type { Measure, Measured } from './measures.ts'
import {
  ACTIVITY,
  CHECK_IN_SYSTEM,
  MEASURE_SYSTEM,
  OBSERVATION_SYSTEM,
  referenceTo,
  SIGN_SYSTEM,
  SURVEY,
  uuidOf,
} from './names.ts'
import type { Concept, Observation, Reference, ValueOrReason } from './resources.ts'
import { fhirText } from './text.ts'

export interface Subjects {
  readonly patient: Reference
  readonly device: Reference
  /** IANA name: where the morning after a session is another day than that of the session. */
  readonly timeZone: string
  readonly corrections: Corrections
}

/**
 * All observations of one session: what was measured and what the handler said, after the one that has them all
 * as members; none when there is nothing to tell.
 */
export function observationsOf(
  summary: SessionSummary,
  { analysis, repetitionNotes }: SessionArchive,
  subjects: Subjects,
): Observation[] {
  const report = summary.state === 'finished' ? analysis?.report : undefined
  const said = notes(notesOf(summary, holdsByPerson(analysis)))
  const members = [
    ...(report ? measuresOf(report) : []).map((measure) => ({
      ...measured(summary, measure, report!.version, subjects),
      ...said,
    })),
    ...repetitionNotes.flatMap((repetition) => signsOf(summary, repetition, subjects)),
    ...checkInOf(summary, subjects),
  ]
  if (members.length === 0) return []
  return [{ ...panelOf(summary, members, subjects), ...said }, ...members]
}

/** Has no value of its own: R5 lets an Observation group others by `hasMember`. */
function panelOf(
  summary: SessionSummary,
  members: readonly Observation[],
  { patient, device, corrections }: Subjects,
): Observation {
  return {
    ...head(summary.id, 'session', corrections.measured),
    category: [{ coding: [ACTIVITY] }],
    code: ownCode('session', 'Session of standing exercise'),
    subject: patient,
    ...periodOf(summary),
    device,
    hasMember: members.map(({ id }) => referenceTo(id)),
  }
}

function measured(
  summary: SessionSummary,
  measure: Measure,
  analysisVersion: string,
  { patient, device, corrections }: Subjects,
): Observation {
  const { code, display, method, component } = measure
  return {
    ...head(summary.id, code, corrections.measured),
    category: [{ coding: [ACTIVITY] }],
    code: { ...ownCode(code, display), text: display },
    subject: patient,
    ...periodOf(summary),
    ...valueOf(measure),
    device,
    method: { text: `${method} Swaybook analysis ${analysisVersion}.` },
    ...(component && {
      component: [{ code: ownCode(component.code, component.display), ...valueOf(component) }],
    }),
  }
}

/** Of the day after the session, whenever somebody said it. */
function checkInOf(
  { id, startedAt, checkIn }: SessionSummary,
  { patient, timeZone, corrections }: Subjects,
): Observation[] {
  if (!checkIn) return []
  return [
    {
      ...head(id, 'check-in', checkIn.version > 1 || corrections.start),
      category: [{ coding: [SURVEY] }],
      code: ownCode('check-in', 'How the dog was on the morning after'),
      subject: patient,
      ...(startedAt !== null && { effectiveDateTime: addDays(localDay(startedAt, timeZone), 1) }),
      issued: checkIn.at,
      valueCodeableConcept: {
        coding: [{ system: CHECK_IN_SYSTEM, code: checkIn.answer }],
        text: checkIn.answer,
      },
      ...notes([checkIn.note]),
    },
  ]
}

function signsOf(
  summary: SessionSummary,
  { id: noteId, atS, signs, note, version }: RepetitionNotesFile[number],
  { patient, corrections }: Subjects,
): Observation[] {
  const at = instantOf(summary, atS)
  return signs.map((sign) => ({
    ...head(summary.id, `fatigue-sign ${noteId} ${sign}`, version > 1 || corrections.start),
    category: [{ coding: [SURVEY] }],
    code: ownCode('fatigue-sign', 'Sign of fatigue that the handler saw'),
    subject: patient,
    ...(at !== null && { effectiveDateTime: at }),
    valueCodeableConcept: { coding: [{ system: SIGN_SYSTEM, code: codeOf(sign) }], text: sign },
    ...notes([note]),
  }))
}

function head(sessionId: string, what: string, isAmended: boolean) {
  return {
    resourceType: 'Observation' as const,
    id: uuidOf('observation', sessionId, what),
    identifier: [{ system: OBSERVATION_SYSTEM, value: `${sessionId}/${codeOf(what)}` }],
    status: isAmended ? ('amended' as const) : ('final' as const),
  }
}

function ownCode(code: string, display: string): Concept {
  return { coding: [{ system: MEASURE_SYSTEM, code, display }] }
}

/** A FHIR code has no space at its ends and no two together; ours have none. */
function codeOf(words: string): string {
  return words.replaceAll(' ', '-')
}

function valueOf({ value, unit, reason }: Measured): ValueOrReason {
  if (value !== null) return { valueQuantity: quantity(value, unit) }
  // Text alone: the reasons are our own, and the standard's list has none that says as much.
  return { dataAbsentReason: { text: fhirText(reason) ?? 'No reason was given.' } }
}

function periodOf({ startedAt, durationS }: SessionSummary): Pick<Observation, 'effectivePeriod'> {
  if (startedAt === null || durationS === null) return {}
  const end = new Date(Date.parse(startedAt) + durationS * 1000)
  return { effectivePeriod: { start: startedAt, end: end.toISOString() } }
}

/** A moment of the session; one noted outside of it is told as its nearer end. */
function instantOf({ startedAt, durationS }: SessionSummary, atS: number): string | null {
  if (startedAt === null) return null
  const withinS = Math.min(Math.max(atS, 0), durationS ?? 0)
  return new Date(Date.parse(startedAt) + withinS * 1000).toISOString()
}

function notesOf(
  { setUp, excluded, startedAt }: SessionSummary,
  byPerson: HoldsByPerson | null,
): (string | null)[] {
  return [
    setUp && `Set-up: ${setUp.exercise}, on ${setUp.surface}.`,
    byPerson && byPerson.set > 0 ? `Holds whose bounds a person set: ${byPerson.set}.` : null,
    byPerson && byPerson.leftOut > 0 ? `Holds left out by a person: ${byPerson.leftOut}.` : null,
    startedAt === null ? 'When it was recorded is not known.' : null,
    excluded && `Left out of trends: ${excluded.reason}`,
  ]
}

function notes(texts: readonly (string | null)[]): Pick<Observation, 'note'> {
  const said = texts.map(fhirText).filter((text) => text !== null)
  return said.length > 0 ? { note: said.map((text) => ({ text })) } : {}
}
