import { createHash } from 'node:crypto'
import type { Coding, Reference } from './resources.ts'

/** Chosen once at random for the names below (RFC 9562 §6.5). */
const NAMESPACE = Buffer.from('6f1c0a52c1d84c2b9a70e5c7d2b94e13', 'hex')

/**
 * A UUID of version 5 that always is the same for the same thing: ids of our own hold characters that a
 * FHIR id must not have, and a bundle made again names the same resources.
 */
export function uuidOf(...name: readonly string[]): string {
  const hash = createHash('sha1').update(NAMESPACE).update(name.join('\n')).digest()
  hash[6] = (hash[6] & 0x0f) | 0x50
  hash[8] = (hash[8] & 0x3f) | 0x80
  const hex = hash.toString('hex')
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20, 32)].join(
    '-',
  )
}

export const urnOf = (uuid: string) => `urn:uuid:${uuid}`

export function referenceTo(uuid: string, display?: string): Reference {
  return { reference: urnOf(uuid), ...(display !== undefined && { display }) }
}

/** Identifiers of our own, so that a receiver can tell one dog or session from another. */
export const DOG_SYSTEM = 'urn:swaybook:dog'
export const SENSOR_SYSTEM = 'urn:swaybook:sensor'
export const OBSERVATION_SYSTEM = 'urn:swaybook:observation'

/** No standard code exists for how a dog sways: the codes are our own and say so by their system. */
export const MEASURE_SYSTEM = 'urn:swaybook:codes:measure'
export const CHECK_IN_SYSTEM = 'urn:swaybook:codes:check-in'
export const SIGN_SYSTEM = 'urn:swaybook:codes:fatigue-sign'

const CATEGORY_SYSTEM = 'http://terminology.hl7.org/CodeSystem/observation-category'

/** What the body did in an exercise; not `exam`, which is what a clinician examined. */
export const ACTIVITY: Coding = { system: CATEGORY_SYSTEM, code: 'activity', display: 'Activity' }
/** What the handler answered or saw. */
export const SURVEY: Coding = { system: CATEGORY_SYSTEM, code: 'survey', display: 'Survey' }
