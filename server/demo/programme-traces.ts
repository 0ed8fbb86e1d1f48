import type { CheckIn } from '#protocol/resources'
import { demoSessionScripts } from '#signal/simulator/programme'
import type { DemoSession } from '#signal/simulator/programme'
import { recordedSession, simulateDelivery } from '#signal/simulator/delivery'
import { simulateSession } from '#signal/simulator/session'
import { formatTraceCsv } from '#signal/trace/format'

/** One session of the demo programme, made when asked for: simulating takes time. */
export interface ProgrammeTrace {
  readonly file: string
  readonly fields: Record<string, string>
  /** The owner's answer the next morning. */
  readonly checkIn: CheckIn
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

function programmeTrace({
  script,
  delivery,
  startedAtUs,
  week,
  exercise,
  setUp,
  checkIn,
}: DemoSession): ProgrammeTrace {
  const day = new Date(startedAtUs / 1000).toISOString().slice(0, 10)
  return {
    file: `juniper-week-${String(week).padStart(2, '0')}-${day}.csv`,
    fields: {
      exercise,
      surface: setUp.surface,
      foreToHindCm: String(Math.round(100 * setUp.spacingM)),
      mount: HARNESS_MOUNT,
    },
    checkIn: { answer: checkIn },
    csv() {
      const session = simulateSession(script)
      const recorded = recordedSession(session, simulateDelivery(session, delivery))
      return formatTraceCsv(recorded.trace, { decimals: DECIMALS })
    },
  }
}
