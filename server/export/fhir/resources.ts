/** The parts of HL7 FHIR R5 (5.0.0) that are written here. */

export interface Coding {
  system: string
  code: string
  display?: string
}

export interface Concept {
  coding?: Coding[]
  text?: string
}

export interface Quantity {
  value: number
  unit: string
  system: 'http://unitsofmeasure.org'
  code: UcumCode
}

/** UCUM, case sensitive. */
export type UcumCode = 'm/s2' | 'm/s3' | 's' | 'Hz' | '1'

export interface Reference {
  reference: string
  display?: string
}

/** A value, or why there is none: never both (obs-6). */
export type ValueOrReason =
  { valueQuantity: Quantity } | { valueCodeableConcept: Concept } | { dataAbsentReason: Concept }

/** One that only groups others has neither value nor reason. */
export type Observation = (ValueOrReason | { hasMember: Reference[] }) & {
  resourceType: 'Observation'
  id: string
  identifier: { system: string; value: string }[]
  status: 'final' | 'amended'
  category: Concept[]
  code: Concept
  subject: Reference
  effectivePeriod?: { start: string; end: string }
  effectiveDateTime?: string
  /** When it was said, where that is not when it was so. */
  issued?: string
  device?: Reference
  method?: Concept
  note?: { text: string }[]
  component?: ({ code: Concept } & ValueOrReason)[]
}

export interface Device {
  resourceType: 'Device'
  id: string
  identifier: { system: string; value: string }[]
  name: { value: string; type: 'user-friendly-name' }[]
  type: Concept[]
}

export interface Patient {
  resourceType: 'Patient'
  id: string
  meta?: { tag: Coding[] }
  extension: { url: string; extension: { url: string; valueCodeableConcept: Concept }[] }[]
  identifier: { system: string; value: string }[]
  name?: { text: string }[]
  birthDate?: string
}

export interface Entry {
  fullUrl: string
  resource: Patient | Device | Observation
}

export interface Bundle {
  resourceType: 'Bundle'
  id: string
  identifier: { system: string; value: string }
  type: 'collection'
  timestamp: string
  entry: Entry[]
}
