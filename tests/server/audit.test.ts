import { readdir, readFile } from 'node:fs/promises'
import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import type { AuditEntry } from '#protocol/diary'
import type { App } from '#server/app'
import { addDog, addLiveSession, call, temporaryDir, testApp } from '../helpers/build-app.ts'
import { madePlan } from '../helpers/made-plan.ts'
import { change, json } from '../helpers/versioned-calls.ts'

interface Page {
  entries: AuditEntry[]
  next: string | null
}

const audit = async (app: App, dogId: string, query = 'limit=500') =>
  json<Page>(app, `/api/dogs/${dogId}/audit?${query}`)
const actions = ({ entries }: Page) => entries.map(({ action }) => action)

/** One change of each kind, words of its own in each. */
async function everyChange(app: App, dogId: string): Promise<string> {
  const dog = `/api/dogs/${dogId}`
  await change(app, 'PATCH', dog, 1, { notes: 'word-of-dog' })
  await change(app, 'PUT', `${dog}/plan`, null, madePlan({ notes: 'word-of-plan' }))
  await change(app, 'PUT', `${dog}/trend-settings`, 0, {
    familiar: ['word-of-settings'],
    withLookAlikes: [],
    baselineSessions: 5,
  })
  const entry = { kind: 'note', fromDate: '2026-03-01', untilDate: null, dose: null, note: null }
  const diary = {
    method: 'POST',
    url: `${dog}/diary`,
    payload: { ...entry, title: 'word-of-diary' },
  } as const
  const { id } = (await call(app, diary)).json()
  await change(app, 'PUT', `${dog}/diary/${id}`, 1, { ...entry, title: 'word-of-diary-after' })
  await change(app, 'DELETE', `${dog}/diary/${id}`, 2)

  const sessionId = await addLiveSession(app, dogId)
  const session = `/api/sessions/${sessionId}`
  const mark = { id: 'm', atS: 1, kind: 'note', note: 'word-of-mark' }
  await call(app, { method: 'POST', url: `${session}/marks`, payload: mark })
  await call(app, { method: 'DELETE', url: `${session}/marks/m` })
  await call(app, { method: 'POST', url: `${session}/finish` })
  await change(app, 'PATCH', session, 1, {
    notes: 'word-of-session',
    excluded: { reason: 'word-of-exclusion' },
    setUpConfirmed: true,
  })
  await change(app, 'PATCH', session, 2, { excluded: null })
  const held = { id: 'h', kind: 'leave out', fromS: 1, toS: 2, reason: 'word-of-hold' }
  await change(app, 'PUT', `${session}/edits`, '*', { marks: [], holds: [held] })
  const note = { atS: 1, stance: null, signs: [], note: 'word-of-note' }
  await change(app, 'PUT', `${session}/repetition-notes/n`, null, note)
  await change(app, 'DELETE', `${session}/repetition-notes/n`, 1)
  const answer = { answer: 'sore', note: 'word-of-check-in' }
  await call(app, { method: 'PUT', url: `${session}/check-in`, payload: answer })
  await call(app, { method: 'PUT', url: `${session}/check-in`, payload: { answer: 'normal' } })
  await call(app, { method: 'DELETE', url: `${session}/check-in` })
  return sessionId
}

describe('/api/dogs/:dogId/audit', () => {
  it('tells every change a person made, newest first, with what it was and is', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const sessionId = await everyChange(app, dogId)
    const page = await audit(app, dogId)
    expect(actions(page)).toEqual([
      'check-in.removed',
      'check-in.changed',
      'check-in.set',
      'repetition-note.removed',
      'repetition-note.added',
      'edits.changed',
      'session.included',
      'session.set-up-confirmed',
      'session.excluded',
      'session.changed',
      'session.finished',
      'mark.removed',
      'mark.added',
      'session.created',
      'diary-entry.removed',
      'diary-entry.changed',
      'diary-entry.added',
      'trend-settings.changed',
      'plan.set',
      'dog.changed',
      'dog.created',
    ])
    expect(page.entries.every(({ actor }) => actor === 'this computer')).toBe(true)
    expect(page.entries.filter((entry) => entry.sessionId !== null).map((entry) => entry.sessionId)).toEqual(
      Array.from({ length: 14 }, () => sessionId),
    )
    const detail = (action: string) => page.entries.find((entry) => entry.action === action)!.detail
    expect(detail('dog.changed')).toEqual({ before: { notes: null }, after: { notes: 'word-of-dog' } })
    expect(detail('session.changed')).toEqual({
      before: { notes: null },
      after: { notes: 'word-of-session' },
    })
    expect(detail('session.excluded')).toMatchObject({ reason: 'word-of-exclusion' })
    expect(detail('edits.changed')).toMatchObject({ holds: { added: [{ reason: 'word-of-hold' }] } })
    expect(detail('check-in.changed')).toEqual({
      before: { answer: 'sore', note: 'word-of-check-in' },
      after: { answer: 'normal', note: null },
    })
    expect(detail('plan.set')).toEqual({ version: 1, setBy: 'Rowan Vale' })
  })

  it('tells no change that was refused, or that changed nothing', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const dog = `/api/dogs/${dogId}`
    await change(app, 'PATCH', dog, 9, { notes: 'never' })
    await change(app, 'PATCH', dog, 1, { notes: null })
    await change(app, 'PATCH', dog, 1, { weightKg: -4 })
    expect(actions(await audit(app, dogId))).toEqual(['dog.created'])
  })

  it('pages without a gap or a repeat, also while more is written', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    for (let version = 1; version <= 6; version++) {
      await change(app, 'PATCH', `/api/dogs/${dogId}`, version, { notes: `${version}` })
    }
    const all = (await audit(app, dogId)).entries
    const paged: AuditEntry[] = []
    let cursor = ''
    do {
      const page = await audit(app, dogId, `limit=2${cursor}`)
      paged.push(...page.entries)
      cursor = page.next === null ? '' : `&cursor=${page.next}`
      if (paged.length === 2) await change(app, 'PATCH', `/api/dogs/${dogId}`, 7, { notes: 'meanwhile' })
    } while (cursor !== '')
    expect(paged).toEqual(all)
    for (const query of ['limit=0', 'limit=501', 'cursor=x', 'cursor=-1']) {
      expect((await call(app, { url: `/api/dogs/${dogId}/audit?${query}` })).statusCode, query).toBe(400)
    }
    expect((await call(app, { url: '/api/dogs/nobody/audit' })).json().code).toBe('DOG_NOT_FOUND')
  })
})

const WORDS = /word-of-[a-z-]+|slipped|Rowan Vale/g

async function wordsOnDisk(dir: string): Promise<string[]> {
  const files = await readdir(dir)
  const contents = await Promise.all(files.map((file) => readFile(join(dir, file), 'latin1')))
  return [...new Set(contents.flatMap((content) => content.match(WORDS) ?? []))].sort()
}

describe('deleting', () => {
  it('a session leaves in the trail its id, its start and what was done with it, and none of its words', async () => {
    const dataDir = await temporaryDir()
    const app = await testApp({ dataDir })
    const dogId = await addDog(app)
    const sessionId = await everyChange(app, dogId)
    const ofSession = ['session', 'mark', 'exclusion', 'hold', 'note', 'check-in'].map(
      (of) => `word-of-${of}`,
    )
    expect(await wordsOnDisk(dataDir)).toEqual(expect.arrayContaining(ofSession))
    await call(app, { method: 'DELETE', url: `/api/sessions/${sessionId}` })
    const { entries } = await audit(app, dogId)
    expect(entries[0]).toMatchObject({ action: 'session.deleted', sessionId, detail: { startedAt: null } })
    expect(entries.filter((entry) => entry.sessionId === sessionId)).toHaveLength(15)
    const left = await wordsOnDisk(dataDir)
    expect(left.filter((word) => ofSession.includes(word))).toEqual([])
    expect(left).toContain('word-of-dog')
  })

  it('a dog leaves no row in any table and none of its words in any file', async () => {
    const dataDir = await temporaryDir()
    const app = await testApp({ dataDir })
    const dogId = await addDog(app)
    await everyChange(app, dogId)
    expect(await wordsOnDisk(dataDir)).toEqual(
      expect.arrayContaining(['Rowan Vale', 'word-of-diary', 'word-of-plan', 'word-of-settings']),
    )
    expect((await call(app, { method: 'DELETE', url: `/api/dogs/${dogId}` })).statusCode).toBe(204)
    expect(await wordsOnDisk(dataDir)).toEqual([])
    const file = new Sqlite(join(dataDir, 'swaybook.sqlite'), { readonly: true })
    const tables = file
      .prepare<[], string>(
        `select name from sqlite_master where type = 'table' and name not like 'kysely%' and name not like 'sqlite%'`,
      )
      .pluck()
      .all()
    expect(tables).toContain('audit')
    // Of the installation, which goes on: its first person, and that a dog was deleted.
    for (const table of tables.filter((name) => !['people', 'security_events'].includes(name))) {
      expect(file.prepare(`select count(*) from ${table}`).pluck().get(), table).toBe(0)
    }
    file.close()
  })
})
