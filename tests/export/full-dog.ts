import { setTimeout as sleep } from 'node:timers/promises'
import type { SessionSummary } from '#protocol/resources'
import type { StoredSessionEdits } from '#protocol/session-review'
import type { Trends } from '#protocol/trends'
import type { Report } from '#signal/report-types'
import type { ListeningApp } from '../helpers/build-app.ts'
import { madePlan } from '../helpers/made-plan.ts'
import { liveSession, sampleTrace, STRANGE } from './made-dog.ts'

/** In every text of a full dog, after something that breaks careless writers. */
export const PLANTED = 'Xylophon-7391'

/** `place` tells the texts of one session from those of another. */
export const planted = (place: string, n = 0) => `${STRANGE[n % STRANGE.length]} ${PLANTED}-${place}-${n}`

export interface FullDog {
  readonly dogId: string
  /** By what they are. */
  readonly sessions: Readonly<Record<'foam' | 'phone' | 'live' | 'restless' | 'short' | 'empty', string>>
}

type Server = Pick<ListeningApp, 'url' | 'wsUrl'>

/** The answer as JSON; throws unless the request went well. */
export async function ask<T = unknown>(
  url: string,
  method = 'GET',
  body?: object,
  version?: number | '*' | null,
): Promise<T> {
  const isForm = body instanceof FormData
  const answer = await fetch(url, {
    method,
    headers: {
      ...(body && !isForm && { 'content-type': 'application/json' }),
      ...(version === null && { 'if-none-match': '*' }),
      ...(version !== null &&
        version !== undefined && { 'if-match': version === '*' ? '*' : `"${version}"` }),
    },
    ...(body && { body: isForm ? body : JSON.stringify(body) }),
  })
  if (!answer.ok) throw new Error(`${method} ${url}: ${answer.status} ${await answer.text()}`)
  return (answer.status === 204 ? null : await answer.json()) as T
}

/** A dog with content in every table and, over all its rows, in every column. */
export async function fullDog(server: Server): Promise<FullDog> {
  const { url } = server
  const { id: dogId } = await ask<{ id: string }>(`${url}/api/dogs`, 'POST', {
    name: planted('dog', 0),
    breed: planted('dog', 1),
    notes: planted('dog', 2),
    weightKg: 23.45,
  })
  const dog = `${url}/api/dogs/${dogId}`
  await ask(dog, 'PATCH', { bornYear: 2017, withersCm: 61.5, notes: planted('dog', 3) }, 1)
  await plans(dog)
  await diary(dog)

  const foam = await uploaded(dog, 'foam-hand-support.tsv', `${planted('foam', 0)}.tsv`, {
    exercise: planted('foam', 1).replace(/[\r\n]/g, ''),
    surface: planted('foam', 3),
    foreToHindCm: '45.5',
    leftToRightCm: '18',
    heightCm: '6',
    firmness: 'soft',
    unstable: 'true',
    mount: 'y=cranial,z=dorsal',
    startedAt: '2026-03-02T07:30:00.123Z',
  })
  await reviewed(url, foam, 'foam')
  for (const [n, answer] of ['tired', 'sore', 'normal'].entries()) {
    await ask(`${url}/api/sessions/${foam}/check-in`, 'PUT', { answer, note: planted('foam', 10 + n) })
  }
  const phone = await uploaded(dog, 'phone.csv', `${planted('phone', 0)}.csv`, {})
  await ask(`${url}/api/sessions/${phone}/check-in`, 'PUT', { answer: 'better' })
  // Taken back and said anew: its version goes on.
  await ask(`${url}/api/sessions/${phone}/check-in`, 'DELETE')
  await ask(`${url}/api/sessions/${phone}/check-in`, 'PUT', { answer: 'better' })
  await ask(`${url}/api/sessions/${phone}`, 'PATCH', { excluded: { reason: planted('phone', 1) } }, 1)

  const live = await measuredLive(server, dogId)
  await reviewed(url, live, 'live')
  await ask(`${url}/api/sessions/${live}/check-in`, 'PUT', { answer: 'sore', note: planted('live', 9) })
  const restless = await liveSession(server, dogId, {
    channels: 3,
    samples: 1500,
    lost: [],
    value: (i, c) => (c === 2 ? 9.81 : 0) + 5 * Math.sin(i / 11 + c) + 3 * Math.sin(i / 2.3 + 2 * c),
    note: planted('restless'),
  })
  const short = await liveSession(server, dogId, {
    channels: 3,
    samples: 1,
    lost: [],
    note: planted('short'),
  })
  await ended(url, short, 'failed')
  const { id: empty } = await ask<{ id: string }>(`${url}/api/sessions`, 'POST', { dogId, sensor: 'phone' })
  await ask(`${url}/api/sessions/${empty}/finish`, 'POST')
  await ask(`${url}/api/sessions/${empty}`, 'PATCH', { notes: planted('empty') }, 1)

  const { lines } = await ask<Trends>(`${dog}/trends`)
  for (const version of [0, 1]) {
    const settings = {
      familiar: [lines[0].key],
      withLookAlikes: lines.map(({ key }) => key),
      baselineSessions: 4 + version,
    }
    await ask(`${dog}/trend-settings`, 'PUT', settings, version)
  }
  return { dogId, sessions: { foam, phone, live, restless, short, empty } }
}

async function plans(dog: string): Promise<void> {
  const words = (version: number) => ({
    setBy: planted('plan', version),
    notes: planted('plan', version + 3),
  })
  await ask(`${dog}/plan`, 'PUT', madePlan({ ...words(1), validUntil: '2026-03-31' }), null)
  await ask(`${dog}/plan`, 'PUT', madePlan({ ...words(2), validFrom: '2026-04-01', validUntil: null }), 1)
  const third = madePlan({ ...words(3), validFrom: '2026-05-01', validUntil: '2026-06-30', daysPerWeek: 3 })
  await ask(`${dog}/plan`, 'PUT', { ...third, stopRules: { ...third.stopRules, supportRise: 0.25 } }, 2)
}

async function diary(dog: string): Promise<void> {
  const entry = (n: number, kind: string, fromDate: string, untilDate: string | null) => ({
    kind,
    fromDate,
    untilDate,
    title: planted('diary', n),
    dose: kind === 'medication' ? planted('dose', n) : null,
    note: n % 2 === 0 ? planted('note', n) : null,
  })
  await ask(`${dog}/diary`, 'POST', entry(0, 'medication', '2026-03-01', null))
  await ask(`${dog}/diary`, 'POST', entry(1, 'medication', '2025-12-01', '2026-02-28'))
  await ask(`${dog}/diary`, 'POST', entry(2, 'event', '2026-03-04', null))
  await ask(`${dog}/diary`, 'POST', entry(3, 'note', '2026-03-04', null))
  const made = await ask<{ id: string }>(
    `${dog}/diary`,
    'POST',
    entry(4, 'event', '2026-03-04', '2026-03-09'),
  )
  await ask(`${dog}/diary/${made.id}`, 'PUT', entry(5, 'event', '2026-03-05', '2026-03-09'), 1)
  const gone = await ask<{ id: string }>(`${dog}/diary`, 'POST', entry(6, 'note', '2026-03-06', null))
  await ask(`${dog}/diary/${gone.id}`, 'DELETE', undefined, 1)
}

async function uploaded(
  dog: string,
  sample: string,
  name: string,
  fields: Record<string, string>,
): Promise<string> {
  const form = new FormData()
  for (const [field, value] of Object.entries(fields)) form.set(field, value)
  form.set('file', new Blob([await sampleTrace(sample)]), name.replace(/[^ -.0-~]/g, ''))
  return (await ask<{ id: string }>(`${dog}/traces`, 'POST', form)).id
}

/** A plan followed, a set-up confirmed, losses, a clock 150 ppm off, stands with steps between them. */
function measuredLive(server: Server, dogId: string): Promise<string> {
  return liveSession(server, dogId, {
    channels: 6,
    samples: 7200,
    lost: [
      [700, 40],
      [5000, 3],
    ],
    value: (i, c) => {
      const isStep = i % 1500 > 1300
      return (
        (c === 2 ? 9.81 : 0) + (isStep ? 3 * Math.sin(i / 9 + 2 * c) : 0.03 * Math.sin(i / (7 + c) + i * i))
      )
    },
    session: {
      setUp: {
        exercise: planted('live', 0),
        surface: planted('live', 2),
        foreToHindCm: 45,
        leftToRightCm: 18,
        heightCm: 0,
        firmness: 'firm',
        unstable: false,
      },
      planned: { planVersion: 2, exerciseId: 'foam-stand' },
      sensorDescription: {
        name: planted('live', 3),
        layoutHash: 'abc',
        layout: { words: planted('live', 4) },
        batteryPercent: 71.5,
      },
      setUpConfirmed: true,
    },
    hello: { resolutionMs2: 0.0024 },
    note: planted('live', 5),
  })
}

/** Everything a person can say after a session. */
async function reviewed(url: string, id: string, place: string): Promise<void> {
  const session = `${url}/api/sessions/${id}`
  const { version } = await ask<SessionSummary>(session)
  const changes = [
    { notes: planted(place, 20), setUpConfirmed: true },
    { excluded: { reason: planted(place, 21) } },
    { excluded: null },
    { excluded: { reason: planted(place, 22) } },
  ]
  for (const [i, change] of changes.entries()) await ask(session, 'PATCH', change, version + i)

  const { holds } = await ask<Report>(`${session}/report`)
  const [first, second, third] = holds.filter(({ role }) => role === 'exercise')
  const edits = await ask<StoredSessionEdits>(`${session}/edits`)
  const body = {
    marks: [
      ...edits.marks,
      { id: 'by-hand', atS: first.fromS + 0.1, kind: 'note', note: planted(place, 23) },
    ],
    holds: [
      { id: 'z', kind: 'set', fromS: first.fromS + 0.2, toS: first.toS - 0.2, reason: planted(place, 24) },
      // Of the same moment: the order in which they were said, not that of their ids, comes back.
      { id: 'b', kind: 'set', fromS: second.fromS, toS: second.toS - 0.3, reason: null },
      {
        id: 'a',
        kind: 'leave out',
        fromS: second.fromS,
        toS: second.fromS + 0.1,
        reason: planted(place, 25),
      },
      ...(third
        ? [{ id: 'y', kind: 'leave out', fromS: third.fromS, toS: third.toS, reason: planted(place, 26) }]
        : []),
    ],
  }
  await ask(`${session}/edits`, 'PUT', body, '*')
  const note = (n: number, noteText: string | null, signs: string[]) => ({
    atS: n === 0 ? first.fromS : second.fromS + 0.123456,
    stance: n === 0 ? 'hind feet tucked under' : null,
    signs,
    note: noteText,
  })
  const notes = `${session}/repetition-notes`
  await ask(`${notes}/n-0`, 'PUT', note(0, planted(place, 27), ['trembling', 'paw off']), null)
  await ask(`${notes}/n-0`, 'PUT', note(0, planted(place, 28), ['trembling', 'looking away']), 1)
  await ask(`${notes}/n-1`, 'PUT', note(1, null, []), null)
}

async function ended(url: string, id: string, state: SessionSummary['state']): Promise<void> {
  const reached = async () => (await ask<SessionSummary>(`${url}/api/sessions/${id}`)).state
  for (let now = await reached(); now !== state; now = await reached()) {
    if (now !== 'recording' && now !== 'analysing') throw new Error(`${id} is ${now}, not ${state}`)
    await sleep(50)
  }
}
