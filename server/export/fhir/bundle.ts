import { setImmediate as nextTurn } from 'node:timers/promises'
import type { Dog, SessionSummary } from '#protocol/resources'
import type { DogArchive } from '../../store/archives.ts'
import type { Store } from '../../store/store.ts'
import { allSessions } from '../all-sessions.ts'
import { DOG_SYSTEM, MEASURE_SYSTEM, SENSOR_SYSTEM, referenceTo, urnOf, uuidOf } from './names.ts'
import type { Bundle, Device, Entry, Patient } from './resources.ts'
import { fhirText } from './text.ts'
import { correctionsOf } from './amended.ts'
import { observationsOf } from './session-observations.ts'

/** An animal is told by this extension of Patient (HL7 FHIR extensions pack, patient-animal). */
const ANIMAL = 'http://hl7.org/fhir/StructureDefinition/patient-animal'

/** Of the computer, which stands where the dog lives. */
const HERE = new Intl.DateTimeFormat().resolvedOptions().timeZone

/**
 * What was measured of a dog and what its handler said, as an HL7 FHIR R5 Bundle of type collection. The
 * samples are not in it: EDF+ is for them.
 */
export async function fhirBundle(
  store: Store,
  dogId: string,
  now: Date,
  timeZone = HERE,
): Promise<Bundle | null> {
  const archive = await store.archives.dog(dogId)
  if (!archive) return null
  const patient = patientOf(archive.dog)
  const corrections = correctionsOf(archive.audit)
  const devices = new Map<string, Device>()
  const entries: Entry[] = []
  for (const summary of await allSessions(store.records, dogId)) {
    const session = await store.archives.session(summary.id)
    if (!session) continue
    const device = deviceOf(summary, session.session.sensorDescription?.name ?? null)
    devices.set(device.id, device)
    const observations = observationsOf(summary, session, {
      patient: referenceTo(patient.id),
      device: referenceTo(device.id, device.name[0].value),
      timeZone,
      corrections: corrections(summary.id),
    })
    entries.push(...observations.map(entryOf))
    await nextTurn()
  }
  return {
    resourceType: 'Bundle',
    id: uuidOf('bundle', dogId, now.toISOString()),
    identifier: { system: 'urn:ietf:rfc:3986', value: urnOf(uuidOf('bundle', dogId, now.toISOString())) },
    type: 'collection',
    timestamp: now.toISOString(),
    entry: [entryOf(patient), ...[...devices.values()].map(entryOf), ...entries],
  }
}

function entryOf(resource: Entry['resource']): Entry {
  return { fullUrl: urnOf(resource.id), resource }
}

function patientOf(dog: DogArchive['dog'] | Dog): Patient {
  const [name, breed] = [fhirText(dog.name), fhirText(dog.breed)]
  return {
    resourceType: 'Patient',
    id: uuidOf('dog', dog.id),
    ...(dog.demo && {
      meta: { tag: [{ system: MEASURE_SYSTEM, code: 'demo', display: 'Invented demonstration data' }] },
    }),
    extension: [
      {
        url: ANIMAL,
        extension: [
          { url: 'species', valueCodeableConcept: { text: 'Dog (Canis lupus familiaris)' } },
          ...(breed !== null ? [{ url: 'breed', valueCodeableConcept: { text: breed } }] : []),
        ],
      },
    ],
    identifier: [{ system: DOG_SYSTEM, value: dog.id }],
    ...(name !== null && { name: [{ text: name }] }),
    ...(dog.bornYear !== null && { birthDate: String(dog.bornYear) }),
  }
}

const SENSOR_WORDS: ReadonlyMap<string, string> = new Map([
  ['bluetooth', 'Bluetooth accelerometer on a harness'],
  ['phone', 'Telephone on a harness'],
  ['simulated harness', 'Simulated accelerometer: no real dog'],
  ['replay', 'Recording that was played again'],
  ['upload', 'Accelerometer of an uploaded recording'],
])

/** One for each kind of sensor, or each that told its name. */
function deviceOf({ sensor }: SessionSummary, name: string | null): Device {
  const words = SENSOR_WORDS.get(sensor) ?? fhirText(sensor) ?? 'Sensor'
  const shown = fhirText(name) ?? words
  return {
    resourceType: 'Device',
    id: uuidOf('device', sensor, name ?? ''),
    identifier: [{ system: SENSOR_SYSTEM, value: uuidOf('device', sensor, name ?? '') }],
    name: [{ value: shown, type: 'user-friendly-name' }],
    type: [{ text: words }],
  }
}
