import { readFileSync } from 'node:fs'
import { Ajv } from 'ajv'
import { describe, expect, it, vi } from 'vitest'
import { THIS_COMPUTER } from '#server/author'
import { fhirBundle } from '#server/export/fhir/bundle'
import type { Bundle, Observation } from '#server/export/fhir/resources'
import { addDog, call, listeningApp, testApp } from '../helpers/build-app.ts'
import type { App } from '#server/app'
import type { SessionSummary } from '#protocol/resources'
import type { NewRepetitionNote, StoredSessionEdits } from '#protocol/session-review'
import { change, json } from '../helpers/versioned-calls.ts'
import { liveSession, madeDog, STRANGE } from './made-dog.ts'

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

/** A note of white space with a sign, past the checks of its route. */
async function planted(app: App, sessionId: string, atS: number): Promise<void> {
  const note: NewRepetitionNote = { atS, stance: null, signs: ['panting'], note: '  ' }
  const stored = await app.store.records.repetitionNotes.set(sessionId, 'n', note, () => true, THIS_COMPUTER)
  expect(stored.kind).toBe('changed')
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
      // string: must have a character that is no white space, and no control characters (R5, Data types).
      if (typeof value === 'string' && (!/\S/.test(value) || /[^\P{Cc}\t\r\n]/u.test(value)))
        broken.push(`string ${key}`)
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
  // One that groups others has no value of its own.
  if (!('dataAbsentReason' in any) && valued.length === 0 && !('hasMember' in any))
    broken.push('neither value nor reason')
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

/** A dog with one live session of 12 s, as it was recorded. */
async function recorded(): Promise<{ app: App; dogId: string; session: SessionSummary }> {
  const server = await listeningApp()
  const dogId = await addDog(server.app)
  const id = await liveSession(server, dogId, { channels: 3, samples: 1200, lost: [] })
  return { app: server.app, dogId, session: await json(server.app, `/api/sessions/${id}`) }
}

async function observationsIn(app: App, dogId: string, code?: string): Promise<Observation[]> {
  const answer = await call(app, { url: `/api/dogs/${dogId}/fhir.json` })
  expect(answer.statusCode).toBe(200)
  expect(brokenRules(answer.json())).toEqual([])
  return answer
    .json<Bundle>()
    .entry.map(({ resource }) => resource)
    .filter((resource) => resource.resourceType === 'Observation')
    .filter((observation) => code === undefined || observation.code.coding![0].code === code)
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

  it('a sign noted far beyond the session is told at its end', async () => {
    const { app, dogId, session } = await recorded()
    // Routes refuse it; records of before may hold it.
    await planted(app, session.id, 1e300)
    const [panting] = await observationsIn(app, dogId, 'fatigue-sign')
    const [panel] = await observationsIn(app, dogId, 'session')
    expect(panting.effectiveDateTime).toBe(panel.effectivePeriod!.end)
  })

  it('is final until somebody corrects what had been recorded, marks of the recording are part of it', async () => {
    const statuses = async (app: App, dogId: string) =>
      [...new Set((await observationsIn(app, dogId)).map(({ status }) => status))].join()
    const untouched = await recorded()
    const { app, dogId } = untouched
    const url = `/api/sessions/${untouched.session.id}`
    expect((await json<StoredSessionEdits>(app, `${url}/edits`)).version).toBeGreaterThan(1)
    expect(await statuses(app, dogId)).toBe('final')
    await change(app, 'PATCH', url, untouched.session.version, { notes: 'Windy' })
    expect(await statuses(app, dogId)).toBe('final')
    await change(app, 'PATCH', url, untouched.session.version + 1, { mount: 'x=cranial,z=dorsal' })
    expect(await statuses(app, dogId)).toBe('amended')

    const marked = await recorded()
    const mark = { atS: 3, kind: 'support-on' }
    const markUrl = `/api/sessions/${marked.session.id}/marks`
    expect((await call(marked.app, { method: 'POST', url: markUrl, payload: mark })).statusCode).toBe(201)
    expect(await statuses(marked.app, marked.dogId)).toBe('amended')

    const moved = await recorded()
    const startedAt = '2026-01-01T10:00:00Z'
    await change(moved.app, 'PATCH', `/api/sessions/${moved.session.id}`, moved.session.version, {
      startedAt,
    })
    expect(await statuses(moved.app, moved.dogId)).toBe('amended')
  })

  it('a mark that a person makes while it is being recorded amends nothing', async () => {
    const server = await listeningApp()
    const dogId = await addDog(server.app)
    await liveSession(server, dogId, {
      channels: 3,
      samples: 1200,
      lost: [],
      meanwhile: async (sessionId) => {
        const mark = { atS: 1, kind: 'support-on' }
        const url = `/api/sessions/${sessionId}/marks`
        expect((await call(server.app, { method: 'POST', url, payload: mark })).statusCode).toBe(201)
      },
    })
    expect((await observationsIn(server.app, dogId)).map(({ status }) => status)).not.toContain('amended')
  })

  it('a check-in is of the day after its session, issued when it was said, and a member of the session', async () => {
    const { app, dogId, session } = await recorded()
    const url = `/api/sessions/${session.id}/check-in`
    await call(app, { method: 'PUT', url, payload: { answer: 'sore', note: ' \u00A0' } })
    const { at } = await json<{ at: string }>(app, url)
    const bundle = (await fhirBundle(app.store, dogId, new Date(), 'Europe/Berlin'))!
    expect(schemaErrors(bundle)).toEqual([])
    expect(brokenRules(bundle)).toEqual([])
    const told = bundle.entry
      .map(({ resource }) => resource)
      .filter((one) => one.resourceType === 'Observation')
    const checkIn = told.find(({ code }) => code.coding![0].code === 'check-in')!
    // 2026-03-01T23:30Z is 2 March in Berlin.
    await change(app, 'PATCH', `/api/sessions/${session.id}`, session.version, {
      startedAt: '2026-03-01T23:30:00Z',
    })
    const later = (await fhirBundle(app.store, dogId, new Date(), 'Europe/Berlin'))!
    expect(JSON.stringify(later)).toContain('"effectiveDateTime":"2026-03-03"')
    expect(checkIn).toMatchObject({ effectiveDateTime: '2026-03-02', issued: at })
    expect(checkIn).not.toHaveProperty('note')
    const [panel, ...members] = told as Anything[]
    expect(panel.code.coding).toMatchObject([{ code: 'session' }])
    expect(panel.hasMember).toEqual(members.map(({ id }) => ({ reference: `urn:uuid:${id}` })))
    expect(members).toContain(checkIn)
  })

  it('text of white space alone is left out', async () => {
    const server = await listeningApp()
    const { app } = server
    // Routes refuse it; records of before may hold it.
    const dogId = 'blank'
    const { id: personId, name } = await app.store.people.keeper()
    await app.store.records.addDog({ id: dogId, name: ' ', breed: '\t' }, { name, personId })
    const id = await liveSession(server, dogId, { channels: 3, samples: 1200, lost: [] })
    await app.store.records.checkIns.set(id, { answer: 'tired', note: '\n' }, () => true, THIS_COMPUTER)
    await planted(app, id, 1)
    const bundle = (await call(app, { url: `/api/dogs/${dogId}/fhir.json` })).json<Bundle>()
    expect(schemaErrors(bundle)).toEqual([])
    expect(brokenRules(bundle)).toEqual([])
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
