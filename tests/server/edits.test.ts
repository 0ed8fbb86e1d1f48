import { describe, expect, it } from 'vitest'
import { formatTraceCsv } from '#signal/trace/format'
import type { Report } from '#signal/report-types'
import type { SessionSummary } from '#protocol/resources'
import type { SessionEdits, StoredSessionEdits } from '#protocol/session-review'
import type { App } from '#server/app'
import { addDog, addLiveSession, call, testApp } from '../helpers/build-app.ts'
import { sessionTrace } from '../helpers/session-trace.ts'
import { upload } from '../helpers/upload.ts'

const CSV = formatTraceCsv(sessionTrace())

const editsUrl = (id: string) => `/api/sessions/${id}/edits`
const get = async (app: App, id: string) =>
  (await call(app, { url: editsUrl(id) })).json<StoredSessionEdits>()
const put = (app: App, id: string, { marks, holds }: SessionEdits, version: number | '*') =>
  call(app, {
    method: 'PUT',
    url: editsUrl(id),
    payload: { marks, holds },
    headers: { 'if-match': version === '*' ? '*' : `"${version}"` },
  })
const reportText = async (app: App, id: string) =>
  (await call(app, { url: `/api/sessions/${id}/report` })).body

async function uploaded(app: App): Promise<SessionSummary> {
  return (await upload(app, await addDog(app), CSV)).json()
}

describe('/api/sessions/:sessionId/edits', () => {
  it('gives the marks of the trace, and no corrected holds, with the version as ETag', async () => {
    const app = await testApp()
    const { id } = await uploaded(app)
    const response = await call(app, { url: editsUrl(id) })
    const { marks, holds, version } = response.json<StoredSessionEdits>()
    expect(response.headers.etag).toBe(`"${version}"`)
    expect(holds).toEqual([])
    expect(marks).toEqual((await call(app, { url: `/api/sessions/${id}/marks` })).json())
    expect(marks.length).toBeGreaterThan(0)
  })

  it('measures a session by its corrected holds, and an undo gives the report back bit for bit', async () => {
    const app = await testApp()
    const { id } = await uploaded(app)
    const before = await get(app, id)
    const reportBefore = await reportText(app, id)
    const found = (JSON.parse(reportBefore) as Report).holds.at(-1)!
    const set = { id: 'h', kind: 'set' as const, fromS: found.fromS + 1, toS: found.toS - 1, reason: null }
    const changed = await put(app, id, { ...before, holds: [set] }, before.version)
    expect(changed.json()).toEqual({ ...before, holds: [set], version: before.version + 1 })
    expect(changed.headers.etag).toBe(`"${before.version + 1}"`)
    const corrected = JSON.parse(await reportText(app, id)) as Report
    expect(corrected.holds.at(-1)).toMatchObject({ setBy: 'person' })
    expect(corrected.holds.at(-1)!.durationS).toBeLessThan(found.durationS)
    expect((await put(app, id, before, before.version + 1)).statusCode).toBe(200)
    expect(await reportText(app, id)).toBe(reportBefore)
  })

  it('refuses a document made from another version, changes nothing, and names the newest', async () => {
    const app = await testApp()
    const { id } = await uploaded(app)
    const before = await get(app, id)
    const mark = { atS: 3, kind: 'note', note: 'tail wagging' }
    await call(app, { method: 'POST', url: `/api/sessions/${id}/marks`, payload: mark })
    const refused = await put(app, id, { marks: [], holds: [] }, before.version)
    expect(refused.json()).toMatchObject({ code: 'RECORD_CHANGED', status: 412, version: before.version + 1 })
    expect(refused.headers.etag).toBe(`"${before.version + 1}"`)
    expect((await get(app, id)).marks).toHaveLength(before.marks.length + 1)
    const bare = { method: 'PUT', url: editsUrl(id), payload: { marks: [], holds: [] } } as const
    expect((await call(app, bare)).json()).toMatchObject({ code: 'PRECONDITION_REQUIRED', status: 428 })
  })

  it('of two documents at once of one version exactly one comes through', async () => {
    const app = await testApp()
    const { id } = await uploaded(app)
    const { version, ...before } = await get(app, id)
    const note = (text: string) => ({ id: text, atS: 2, kind: 'note' as const, note: text })
    const answers = await Promise.all(
      ['one', 'two', 'three'].map((text) =>
        put(app, id, { ...before, marks: [...before.marks, note(text)] }, version),
      ),
    )
    expect(answers.map(({ statusCode }) => statusCode).sort()).toEqual([200, 412, 412])
    const kept = answers.find(({ statusCode }) => statusCode === 200)!.json()
    expect(await get(app, id)).toEqual(kept)
  })

  it('every mark that is added or removed by itself makes a new version', async () => {
    const app = await testApp()
    const { id } = await uploaded(app)
    const { version } = await get(app, id)
    const url = `/api/sessions/${id}/marks`
    const payload = { id: 'n', atS: 3, kind: 'note' }
    await call(app, { method: 'POST', url, payload })
    expect((await get(app, id)).version).toBe(version + 1)
    // Known already: nothing changed.
    await call(app, { method: 'POST', url, payload })
    expect((await get(app, id)).version).toBe(version + 1)
    await call(app, { method: 'DELETE', url: `${url}/n` })
    expect((await get(app, id)).version).toBe(version + 2)
  })

  it('is refused while the session is being recorded', async () => {
    const app = await testApp()
    const id = await addLiveSession(app)
    expect(await get(app, id)).toEqual({ marks: [], holds: [], version: 1 })
    const refused = await put(app, id, { marks: [], holds: [] }, 1)
    expect(refused.json()).toMatchObject({ code: 'SESSION_RECORDING', status: 409 })
  })

  it.each([
    ['a hold that ends before it begins', [{ fromS: 5, toS: 5 }], 'not after its beginning'],
    ['a hold beyond the end', [{ fromS: 5, toS: 5000 }], 'the session ends at'],
    ['holds left out without a reason', [{ kind: 'leave out', fromS: 5, toS: 6, reason: ' ' }], 'say why'],
    [
      'set holds that overlap',
      [
        { fromS: 5, toS: 7 },
        { fromS: 6, toS: 8 },
      ],
      'overlap',
    ],
    [
      'an id used twice',
      [
        { id: 'x', fromS: 5, toS: 6 },
        { id: 'x', fromS: 7, toS: 8 },
      ],
      'the id x',
    ],
  ])('refuses %s with 422 and stores nothing', async (_name, parts, words) => {
    const app = await testApp()
    const { id } = await uploaded(app)
    const before = await get(app, id)
    const holds = parts.map((part, i) => ({ id: `h${i}`, kind: 'set', reason: null, ...part }))
    const refused = await put(app, id, { ...before, holds } as SessionEdits, before.version)
    expect(refused.json()).toMatchObject({ code: 'EDITS_INVALID', status: 422 })
    expect(refused.json().detail).toContain(words)
    expect(await get(app, id)).toEqual(before)
  })

  it('brings back with an undo a mark that lay beyond the end, however it was taken away, and no other', async () => {
    const app = await testApp()
    const { id, durationS } = await uploaded(app)
    const url = `/api/sessions/${id}/marks`
    // As a sender marks a moment whose samples never come.
    const late = { id: 'late', atS: durationS! + 0.1234567, kind: 'note' as const, note: null }
    await app.store.records.addMark(id, late)
    const before = await get(app, id)
    expect(before.marks.at(-1)).toEqual(late)
    const without = { ...before, marks: before.marks.slice(0, -1) }

    const removed = (await put(app, id, without, before.version)).json()
    const undone = await put(app, id, before, removed.version)
    expect(undone.json()).toEqual({ ...before, version: removed.version + 1 })

    await call(app, { method: 'DELETE', url: `${url}/late` })
    expect((await put(app, id, before, '*')).json().marks).toEqual(before.marks)

    const moved = { ...before, marks: [...without.marks, { ...late, atS: durationS! }] }
    expect((await put(app, id, moved, '*')).statusCode).toBe(200)
    expect((await put(app, id, before, '*')).json().marks).toEqual(before.marks)
    for (const other of [
      { ...late, atS: late.atS + 1 },
      { ...late, id: 'other' },
    ]) {
      const refused = await put(app, id, { ...before, marks: [...without.marks, other] }, '*')
      expect(refused.json()).toMatchObject({ code: 'MARK_BEYOND_END', status: 422 })
    }
  })

  it('refuses a note on a repetition beyond the end, but for one that lies there already', async () => {
    const app = await testApp()
    const { id, durationS } = await uploaded(app)
    const url = `/api/sessions/${id}/repetition-notes`
    const note = { atS: durationS! + 1, stance: null, signs: [], note: null }
    const headers = { 'if-none-match': '*' }
    const refused = await call(app, { method: 'PUT', url: `${url}/n`, headers, payload: note })
    expect(refused.json()).toMatchObject({ code: 'MARK_BEYOND_END', status: 422 })
    // As one that was noted while recording, before the samples that never came.
    await app.store.records.repetitionNotes.set(id, 'old', note, () => true, {
      name: 'Rowan Vale',
      personId: null,
    })
    const payload = { ...note, stance: 'square' }
    const changed = await call(app, {
      method: 'PUT',
      url: `${url}/old`,
      headers: { 'if-match': '"1"' },
      payload,
    })
    expect(changed.json()).toMatchObject({ ...payload, version: 2 })
    const within = { ...note, atS: durationS }
    expect((await call(app, { method: 'PUT', url: `${url}/n`, headers, payload: within })).statusCode).toBe(
      201,
    )
  })

  it('refuses a mark beyond the end, and takes set holds that touch', async () => {
    const app = await testApp()
    const { id, durationS } = await uploaded(app)
    const before = await get(app, id)
    const late = { id: 'late', atS: durationS! + 0.001, kind: 'note' as const, note: null }
    const refused = await put(app, id, { ...before, marks: [late] }, before.version)
    expect(refused.json()).toMatchObject({ code: 'MARK_BEYOND_END', status: 422 })
    const touching = [
      { id: 'a', kind: 'set' as const, fromS: 18, toS: 21, reason: null },
      { id: 'b', kind: 'set' as const, fromS: 21, toS: 24, reason: null },
    ]
    const taken = await put(app, id, { ...before, holds: touching }, before.version)
    expect(taken.json().holds).toEqual(touching)
  })

  it('takes as many marks as the schema allows, with text in characters of several bytes', async () => {
    const app = await testApp()
    const { id } = await uploaded(app)
    const { version } = await get(app, id)
    const marks = Array.from({ length: 20_000 }, (_, i) => ({
      id: `mark-${i}`.padEnd(64, '_'),
      atS: i / 1000,
      kind: 'note' as const,
      note: '犬'.repeat(i === 0 ? 500 : 30),
    }))
    expect((await put(app, id, { marks, holds: [] }, version)).json()).toEqual({
      marks,
      holds: [],
      version: version + 1,
    })
    const more = [...marks, { ...marks[0], id: 'one-more' }]
    expect((await put(app, id, { marks: more, holds: [] }, version + 1)).statusCode).toBe(400)
  })
})
