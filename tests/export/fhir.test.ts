import { readFileSync } from 'node:fs'
import { Ajv } from 'ajv'
import { describe, expect, it, vi } from 'vitest'
import type { Bundle, Observation } from '#server/export/fhir/resources'
import { call, listeningApp, testApp } from '../helpers/build-app.ts'
import { madeDog, STRANGE } from './made-dog.ts'

// Threads and apps of their own, on a machine that may be slow.
vi.setConfig({ testTimeout: 180_000 })

const read = (name: string) =>
  JSON.parse(readFileSync(new URL(`../reference/fhir/${name}`, import.meta.url), 'utf8'))

/** HL7 FHIR 5.0.0, openapi/fhir.schema.json of hl7.fhir.r5.core, trimmed (see trim.mjs there). */
function schemaErrors(bundle: unknown): unknown {
  const { $schema, id, ...schema } = read('fhir.schema.trimmed.json')
  // Draft 6, told by its address: of what it uses nothing changed in draft 7, which ajv reads.
  expect($schema).toBe('http://json-schema.org/draft-06/schema#')
  // Its pattern for decimals has a stray bracket, which only unicode expressions refuse.
  const validate = new Ajv({ allErrors: true, strict: false, unicodeRegExp: false }).compile({
    ...schema,
    $id: id,
  })
  return validate(bundle) ? [] : validate.errors
}

/** UCUM 2.1: the units written, from memory of its tables (m, s, Hz, unity and their quotients). */
const UCUM = ['m/s2', 'm/s3', 's', 'Hz', '1']
const UUID = /^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-5[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/

/** What the JSON schema cannot say: constraints and bindings of the StructureDefinitions. */
function brokenRules(bundle: Bundle): string[] {
  const broken: string[] = []
  const fullUrls = bundle.entry.map(({ fullUrl }) => fullUrl)
  // bdl-7: fullUrl unique; here also: a urn:uuid that is the id of its resource.
  if (new Set(fullUrls).size !== fullUrls.length) broken.push('bdl-7')
  const codes: Record<string, string[]> = read('required-codes.json')
  for (const { fullUrl, resource } of bundle.entry) {
    if (!UUID.test(fullUrl) || fullUrl !== `urn:uuid:${resource.id}`) broken.push(`fullUrl ${fullUrl}`)
    JSON.stringify(resource, (key, value) => {
      if (key === 'reference' && !fullUrls.includes(value)) broken.push(`reference ${value}`)
      // ele-1: an element has a value or children; a string is never empty.
      if (value === '' || (typeof value === 'object' && value !== null && Object.keys(value).length === 0)) {
        broken.push(`ele-1 ${key}`)
      }
      if (key === 'valueQuantity' && !UCUM.includes(value.code)) broken.push(`unit ${value.code}`)
      // code: no space at the ends, none doubled (FHIR datatypes).
      if (key === 'code' && typeof value === 'string' && !/^\S+( \S+)*$/.test(value))
        broken.push(`code ${value}`)
      return value
    })
    if (resource.resourceType === 'Device') {
      for (const { type } of resource.name) {
        if (!codes['Device.name.type'].includes(type)) broken.push(`Device.name.type ${type}`)
      }
    }
    if (resource.resourceType === 'Observation') broken.push(...brokenOfObservation(resource, codes))
  }
  if (!codes['Bundle.type'].includes(bundle.type)) broken.push('Bundle.type')
  return broken
}

type Anything = Observation & Record<string, unknown>

function brokenOfObservation(observation: Observation, codes: Record<string, string[]>): string[] {
  const any = observation as Anything
  const broken: string[] = []
  const valued = Object.keys(any).filter((key) => key.startsWith('value'))
  if (!codes['Observation.status'].includes(observation.status)) broken.push('Observation.status')
  if (valued.length > 1) broken.push('value[x] twice')
  if ('dataAbsentReason' in any && valued.length > 0) broken.push('obs-6')
  if (!('dataAbsentReason' in any) && valued.length === 0) broken.push('neither value nor reason')
  const own = JSON.stringify(observation.code.coding)
  if (valued.length > 0 && observation.component?.some(({ code }) => JSON.stringify(code.coding) === own)) {
    broken.push('obs-7')
  }
  if ('bodyStructure' in any && 'bodySite' in any) broken.push('obs-8')
  if ('interpretation' in any) broken.push('interpretation: Swaybook does not judge')
  // per-1: a period does not end before it begins.
  if (observation.effectivePeriod && observation.effectivePeriod.start > observation.effectivePeriod.end) {
    broken.push('per-1')
  }
  return broken
}

describe('GET /api/dogs/:dogId/fhir.json', () => {
  it('is a FHIR R5 Bundle by the published schema and the rules beside it', async () => {
    const server = await listeningApp()
    const dogId = await madeDog(server)
    const answer = await call(server.app, { method: 'GET', url: `/api/dogs/${dogId}/fhir.json` })
    expect(answer.statusCode).toBe(200)
    expect(answer.headers['content-type']).toBe('application/fhir+json; charset=utf-8')
    const bundle = answer.json<Bundle>()
    expect(schemaErrors(bundle)).toEqual([])
    expect(brokenRules(bundle)).toEqual([])

    const resources = bundle.entry.map(({ resource }) => resource)
    expect(resources.find(({ resourceType }) => resourceType === 'Patient')).toMatchObject({
      name: [{ text: STRANGE[1] }],
    })
    const observations = resources.filter((resource) => resource.resourceType === 'Observation')
    const { sessions } = (
      await call(server.app, { method: 'GET', url: `/api/sessions?dogId=${dogId}` })
    ).json()
    for (const session of sessions) {
      const of = (code: string) =>
        observations.find(({ identifier }) => identifier[0].value === `${session.id}/${code}`) as Anything
      // Seven measures a session, each with its number or why there is none.
      expect((of('repetitions').valueQuantity as { value: number }).value).toBe(session.repetitions)
      for (const [code, value] of [
        ['hands-off-hold-time', session.handsOffHoldS],
        ['best-hold', session.bestHoldS],
        ['sway-rms', session.comparableSwayMs2],
        ['tremor-rms', session.comparableTremorMs2],
        ['support-share', session.supportShare],
      ] as const) {
        if (value === null) expect(of(code).dataAbsentReason).toHaveProperty('text')
        else expect(of(code).valueQuantity).toMatchObject({ value })
      }
    }
    const absent = observations.filter((observation) => 'dataAbsentReason' in observation)
    expect(absent.length).toBeGreaterThan(0)
    expect(observations.filter(({ code }) => code.coding![0].code === 'check-in')).toMatchObject([
      { valueCodeableConcept: { text: 'tired' }, note: [{ text: STRANGE[4] }] },
    ])
  })

  it('checks that can fail: a wrong status, a lost reference, a value beside a reason', async () => {
    const server = await listeningApp()
    const url = `/api/dogs/${await madeDog(server)}/fhir.json`
    const made = async () => (await call(server.app, { method: 'GET', url })).json()
    const observation = (bundle: Bundle) =>
      bundle.entry.find(({ resource }) => resource.resourceType === 'Observation')!.resource as Anything
    const broken = await made()
    observation(broken).status = 'done' as 'final'
    observation(broken).subject = { reference: 'urn:uuid:gone' }
    Object.assign(observation(broken), { dataAbsentReason: { text: 'x' }, valueString: 'y' })
    expect(brokenRules(broken)).toEqual(
      expect.arrayContaining(['Observation.status', 'reference urn:uuid:gone', 'obs-6']),
    )
    const unknown = await made()
    Object.assign(observation(unknown), { sway: 1 })
    expect(schemaErrors(unknown)).not.toEqual([])
  })

  it('a dog without sessions is a bundle of its Patient; one that is not there is 404', async () => {
    const app = await testApp()
    const { id } = (
      await call(app, { method: 'POST', url: '/api/dogs', payload: { name: 'J', bornYear: 2019 } })
    ).json()
    const bundle = (await call(app, { method: 'GET', url: `/api/dogs/${id}/fhir.json` })).json()
    expect(schemaErrors(bundle)).toEqual([])
    expect(bundle.entry).toMatchObject([{ resource: { resourceType: 'Patient', birthDate: '2019' } }])
    expect((await call(app, { method: 'GET', url: '/api/dogs/none/fhir.json' })).statusCode).toBe(404)
  })
})
