import type { DogPerson, Me } from '#protocol/people'
import type { Dog } from '#protocol/resources'

/** Invented people of the demo story. */
export const alba = { id: 'p-alba', name: 'Alba', signInName: 'alba', keeper: true, hasSecondFactor: false }
export const rowan = {
  id: 'p-rowan',
  name: 'Rowan Vale',
  signInName: 'rowan',
  keeper: false,
  hasSecondFactor: false,
}

export const signedIn = (person: Me['person']): Me => ({
  person,
  via: 'sign-in',
  passwordSet: true,
  demo: person?.keeper ?? false,
  shared: null,
})
export const nobody: Me = { person: null, via: null, passwordSet: true, demo: false, shared: null }
export const thisComputer: Me = {
  person: alba,
  via: 'this computer',
  passwordSet: false,
  demo: true,
  shared: null,
}

export const dogPerson = (person: typeof alba, role: DogPerson['role']): DogPerson => ({
  personId: person.id,
  name: person.name,
  role,
  since: '2026-09-01T10:00:00Z',
})

export const juniper: Dog = {
  id: 'd1',
  name: 'Juniper',
  breed: null,
  weightKg: null,
  withersCm: null,
  bornYear: null,
  notes: null,
  demo: false,
  createdAt: '2026-03-01T10:00:00.000Z',
  sessions: 0,
  version: 1,
}

export const json = (body: unknown, status = 200, headers: Record<string, string> = {}) =>
  new Response(JSON.stringify(body), { status, headers })

export const refusal = (status: number, code: string, detail: string, headers: Record<string, string> = {}) =>
  json({ type: 'about:blank', title: '', status, code, detail }, status, headers)
