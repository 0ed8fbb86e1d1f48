import type { SessionSummary } from '#protocol/resources'
import type { RepetitionNotesFile } from '../archive-files.ts'
import type { SessionArchive } from '../../store/archives.ts'
import { holdsByPerson } from '../holds-by-person.ts'
import type { HoldsByPerson } from '../holds-by-person.ts'
import { measuresOf, quantity } from './measures.ts'
import type { Measured } from './measures.ts'
import {
  ACTIVITY,
  CHECK_IN_SYSTEM,
  MEASURE_SYSTEM,
  OBSERVATION_SYSTEM,
  SIGN_SYSTEM,
  SURVEY,
  uuidOf,
} from './names.ts'
import type { Observation, Reference, ValueOrReason } from './resources.ts'

export interface Subjects {
  readonly patient: Reference
  readonly device: Reference
}

/** All observations of one session: what was measured, and what the handler said. */
export function observationsOf(
  summary: SessionSummary,
  { analysis, repetitionNotes, edits }: SessionArchive,
  { patient, device }: Subjects,
): Observation[] {
  const { id, checkIn, startedAt, durationS } = summary
  const period = periodOf(startedAt, durationS)
  const status = edits.holds.length > 0 || edits.version > 1 ? 'amended' : 'final'
  const note = notesOf(summary, holdsByPerson(analysis))
  const measured = (summary.state === 'finished' && analysis ? measuresOf(analysis.report) : []).map(
    (measure): Observation => ({
      ...head(id, measure.code, status),
      category: [{ coding: [ACTIVITY] }],
      code: {
        coding: [{ system: MEASURE_SYSTEM, code: measure.code, display: measure.display }],
        text: measure.display,
      },
      subject: patient,
      ...(period && { effectivePeriod: period }),
      ...valueOf(measure),
      device,
      method: { text: `${measure.method} Swaybook analysis ${analysis!.report.version}.` },
      ...(note.length > 0 && { note }),
      ...(measure.component && {
        component: [
          {
            code: {
              coding: [
                {
                  system: MEASURE_SYSTEM,
                  code: measure.component.code,
                  display: measure.component.display,
                },
              ],
            },
            ...valueOf(measure.component),
          },
        ],
      }),
    }),
  )
  const signs = repetitionNotes.flatMap((repetition) => signsOf(summary, repetition, patient))
  if (!checkIn) return [...measured, ...signs]
  const answer: Observation = {
    ...head(id, 'check-in', checkIn.version > 1 ? 'amended' : 'final'),
    category: [{ coding: [SURVEY] }],
    code: {
      coding: [{ system: MEASURE_SYSTEM, code: 'check-in', display: 'How the dog was on the morning after' }],
    },
    subject: patient,
    effectiveDateTime: checkIn.at,
    valueCodeableConcept: {
      coding: [{ system: CHECK_IN_SYSTEM, code: checkIn.answer }],
      text: checkIn.answer,
    },
    ...(checkIn.note && { note: [{ text: checkIn.note }] }),
  }
  return [...measured, ...signs, answer]
}

function signsOf(
  { id, startedAt }: SessionSummary,
  { id: noteId, atS, signs, note, version }: RepetitionNotesFile[number],
  patient: Reference,
): Observation[] {
  return signs.map((sign) => ({
    ...head(id, `fatigue-sign ${noteId} ${sign}`, version > 1 ? 'amended' : 'final'),
    category: [{ coding: [SURVEY] }],
    code: {
      coding: [
        {
          system: MEASURE_SYSTEM,
          code: 'fatigue-sign',
          display: 'Sign of fatigue that the handler saw',
        },
      ],
    },
    subject: patient,
    ...(startedAt !== null && {
      effectiveDateTime: new Date(Date.parse(startedAt) + atS * 1000).toISOString(),
    }),
    valueCodeableConcept: { coding: [{ system: SIGN_SYSTEM, code: codeOf(sign) }], text: sign },
    ...(note && { note: [{ text: note }] }),
  }))
}

function head(sessionId: string, what: string, status: Observation['status']) {
  return {
    resourceType: 'Observation' as const,
    id: uuidOf('observation', sessionId, what),
    identifier: [{ system: OBSERVATION_SYSTEM, value: `${sessionId}/${codeOf(what)}` }],
    status,
  }
}

/** A FHIR code has no space at its ends and no two together; ours have none. */
function codeOf(words: string): string {
  return words.replaceAll(' ', '-')
}

function valueOf({ value, unit, reason }: Measured): ValueOrReason {
  if (value !== null) return { valueQuantity: quantity(value, unit) }
  // Text alone: the reasons are our own, and the standard's list has none that says as much.
  return { dataAbsentReason: { text: reason } }
}

function periodOf(startedAt: string | null, durationS: number | null) {
  if (startedAt === null || durationS === null) return null
  return { start: startedAt, end: new Date(Date.parse(startedAt) + durationS * 1000).toISOString() }
}

function notesOf(
  { setUp, excluded, startedAt }: SessionSummary,
  byPerson: HoldsByPerson | null,
): { text: string }[] {
  return [
    ...(setUp ? [{ text: `Set-up: ${setUp.exercise}, on ${setUp.surface}.` }] : []),
    ...(byPerson && byPerson.set > 0 ? [{ text: `Holds whose bounds a person set: ${byPerson.set}.` }] : []),
    ...(byPerson && byPerson.leftOut > 0
      ? [{ text: `Holds left out by a person: ${byPerson.leftOut}.` }]
      : []),
    ...(startedAt === null ? [{ text: 'When it was recorded is not known.' }] : []),
    ...(excluded ? [{ text: `Left out of trends: ${excluded.reason}` }] : []),
  ]
}
