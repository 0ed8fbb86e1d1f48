import type { NewSession, SessionSummary } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { SessionExistsError } from '../store/records.ts'
import type { Records } from '../store/records.ts'
import type { Author } from '../store/changes.ts'
import { newId } from './ids.ts'
import { checkMount } from './mount.ts'

/** A layout of a packet fits many times over. */
const MAX_DESCRIPTION_BYTES = 16 * 1024

/**
 * Opens a live session. With an id of the client's own the same call again gives the session that is
 * there, whatever became of it: a device that recorded without a network may repeat itself.
 * @throws {ServerError} for an id that is taken, an unknown dog, and a plan that does not say this
 */
export async function openSession(
  records: Records,
  asked: NewSession,
  by: Author,
): Promise<{ session: SessionSummary; opened: boolean }> {
  const { dogId, sensor, setUp, mount = 'auto', planned, sensorDescription, setUpConfirmed } = asked
  const id = asked.id ?? newId()
  const known = await records.session(id)
  if (known) return { session: requireSame(known, asked), opened: false }
  checkMount(mount)
  checkDescription(sensorDescription)
  if (!(await records.dog(dogId))) throw new ServerError('DOG_NOT_FOUND', { dogId })
  if (planned) await checkPlanned(records, dogId, planned)
  try {
    const session = {
      id,
      dogId,
      sensor,
      fileName: null,
      contentHash: null,
      setUp: setUp ?? null,
      mount,
      state: 'recording' as const,
      startedAtUs: null,
      planned: planned ?? null,
      sensorDescription: sensorDescription ?? null,
      setUpConfirmed,
    }
    await records.addSession(session, by)
  } catch (error) {
    if (!(error instanceof SessionExistsError)) throw error
    // The same call came twice at once.
    return { session: requireSame((await records.session(id))!, asked), opened: false }
  }
  return { session: (await records.session(id))!, opened: true }
}

function requireSame(known: SessionSummary, { dogId, sensor }: NewSession): SessionSummary {
  if (known.dogId === dogId && known.sensor === sensor && known.fileName === null) return known
  throw new ServerError('SESSION_ID_TAKEN', { sessionId: known.id })
}

function checkDescription(description: NewSession['sensorDescription']): void {
  const bytes = description === undefined ? 0 : Buffer.byteLength(JSON.stringify(description))
  if (bytes <= MAX_DESCRIPTION_BYTES) return
  throw new ServerError('SENSOR_DESCRIPTION_TOO_LARGE', { bytes, limit: MAX_DESCRIPTION_BYTES })
}

async function checkPlanned(
  records: Records,
  dogId: string,
  planned: NonNullable<NewSession['planned']>,
): Promise<void> {
  const plan = await records.plans.plan(dogId, planned.planVersion)
  if (plan?.exercises.some(({ id }) => id === planned.exerciseId)) return
  throw new ServerError('PLANNED_UNKNOWN', planned)
}
