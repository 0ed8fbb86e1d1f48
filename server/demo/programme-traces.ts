import type { CheckIn, SessionChangeBody } from '#protocol/resources'
import type { NewRepetitionNote } from '#protocol/session-review'
import { demoSessionScripts } from '#signal/simulator/programme'
import type { DemoSession } from '#signal/simulator/programme'
import { recordedSession, simulateDelivery } from '#signal/simulator/delivery'
import { simulateSession } from '#signal/simulator/session'
import { formatTraceCsv } from '#signal/trace/format'
import { recordedSetUp } from './juniper-plan.ts'
import { checkInNote, repetitionNotes, sessionWords } from './juniper-words.ts'

/** One session of the demo programme, made when asked for: simulating takes time. */
export interface ProgrammeTrace {
  readonly file: string
  readonly fields: Record<string, string>
  /** The owner's answer the next morning. */
  readonly checkIn: CheckIn
  /** What the handler said of it afterwards. */
  readonly words: SessionChangeBody
  /** By the id of the note. */
  readonly notes: ReadonlyMap<string, NewRepetitionNote>
  csv(): string
}

/** How the simulated sensor sits on the harness, as a person would state it. */
export const HARNESS_MOUNT = 'x=cranial,y=left,z=dorsal'

/** Decimals of the files: finer than the simulated sensor's step. */
const DECIMALS = 4

/** The sixteen weeks before `endDateUs`, newest first so that something is on screen at once. */
export function programmeTraces(endDateUs: number): ProgrammeTrace[] {
  return demoSessionScripts(endDateUs).map(programmeTrace).reverse()
}

function programmeTrace(demo: DemoSession): ProgrammeTrace {
  const { script, delivery, startedAtUs, week, exercise, checkIn } = demo
  const note = checkInNote(demo)
  const day = new Date(startedAtUs / 1000).toISOString().slice(0, 10)
  return {
    file: `juniper-week-${String(week).padStart(2, '0')}-${day}.csv`,
    fields: {
      ...Object.fromEntries(
        Object.entries(recordedSetUp(exercise)).map(([name, value]) => [name, String(value)]),
      ),
      mount: HARNESS_MOUNT,
    },
    checkIn: { answer: checkIn, ...(note !== undefined && { note }) },
    words: sessionWords(demo),
    notes: repetitionNotes(demo),
    csv() {
      const session = simulateSession(script)
      const recorded = recordedSession(session, simulateDelivery(session, delivery))
      return formatTraceCsv(recorded.trace, { decimals: DECIMALS })
    },
  }
}
