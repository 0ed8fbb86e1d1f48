import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { SessionEdits, StoredSessionEdits } from '#protocol/session-review'
import { formatTraceCsv } from '#signal/trace/format'
import type { App } from '#server/app'
import { addDog, call, temporaryDir, testApp } from '../helpers/build-app.ts'
import { sessionTrace } from '../helpers/session-trace.ts'
import { upload } from '../helpers/upload.ts'
import { change, dogWithSession, json } from '../helpers/versioned-calls.ts'

const KINDS = ['support-on', 'support-off', 'repetition-start', 'repetition-end', 'note'] as const

/** Documents within [0, endS), their times made by `time`; set holds do not overlap. */
function documents(time: fc.Arbitrary<number>): fc.Arbitrary<SessionEdits> {
  // Blank text comes back as none.
  const text = fc.string({ unit: 'grapheme', maxLength: 20 }).filter((words) => words.trim() !== '')
  const note = fc.option(text, { nil: null })
  const marks = fc.array(fc.record({ atS: time, kind: fc.constantFrom(...KINDS), note }), { maxLength: 8 })
  const bounds = fc.uniqueArray(time, { maxLength: 8 })
  return fc.tuple(marks, bounds, fc.boolean()).map(([all, times, leaves]) => {
    const ordered = times.toSorted((a, b) => a - b)
    const holds = Array.from({ length: Math.floor(ordered.length / 2) }, (_, i) => ({
      id: `h${i}`,
      kind: leaves && i % 2 === 1 ? ('leave out' as const) : ('set' as const),
      fromS: ordered[2 * i],
      toS: ordered[2 * i + 1],
      reason: leaves ? 'sniffed at a crumb' : null,
    }))
    return {
      marks: all.map((mark, i) => ({ id: `m${i}`, ...mark })).toSorted((a, b) => a.atS - b.atS),
      holds,
    }
  })
}

const microseconds = (endS: number) => fc.integer({ min: 0, max: endS * 1e6 }).map((us) => us / 1e6)
const anyDouble = (endS: number) => fc.double({ min: 0, max: endS, noNaN: true }).map((s) => s + 0)

async function put(app: App, url: string, { marks, holds }: SessionEdits) {
  const response = await change(app, 'PUT', url, '*', { marks, holds })
  expect(response.statusCode, response.body).toBe(200)
  return response.json<StoredSessionEdits>()
}

describe('PUT and then GET of edits', () => {
  it.each([
    ['of a trace, at any double', 1, anyDouble(3600)],
    ['of a stream whose clock runs slow, at any microsecond', 1.000713, microseconds(3600)],
    ['of a stream whose clock runs fast, at any microsecond', 0.9987, microseconds(3600)],
  ])('is the same document: %s', async (_name, scale, time) => {
    const dataDir = await temporaryDir()
    const app = await testApp({ dataDir })
    const { sessionId } = await dogWithSession(app)
    // As the analysis of a stream with such a clock leaves it; this session has no samples to find it from.
    const file = new Sqlite(join(dataDir, 'swaybook.sqlite'))
    file.prepare('update sessions set time_scale = ?').run(scale)
    file.close()
    const url = `/api/sessions/${sessionId}/edits`
    await fc.assert(
      fc.asyncProperty(documents(time), async (document) => {
        const answered = await put(app, url, document)
        const read = await json<StoredSessionEdits>(app, url)
        expect(read).toEqual(answered)
        expect({ marks: read.marks, holds: read.holds }).toEqual(document)
        // And once more: nothing drifts, so nothing is changed.
        expect(await put(app, url, read)).toEqual(read)
      }),
      { seed: 4711, numRuns: 40 },
    )
  })

  it('gives marks and corrections in the order of their time, whatever order they came in', async () => {
    const app = await testApp()
    const url = `/api/sessions/${(await dogWithSession(app)).sessionId}/edits`
    await fc.assert(
      fc.asyncProperty(
        documents(microseconds(60)).chain((document) =>
          fc.tuple(
            fc.constant(document),
            fc.shuffledSubarray(document.holds, { minLength: document.holds.length }),
          ),
        ),
        async ([document, holds]) => {
          const { holds: read } = await put(app, url, { ...document, holds })
          expect(read).toEqual(document.holds)
        },
      ),
      { seed: 4712, numRuns: 20 },
    )
  })
})

describe('undo', () => {
  it('the document before gives the report back bit for bit, whatever was done in between', async () => {
    const app = await testApp()
    const csv = formatTraceCsv(sessionTrace(3))
    const { id } = (await upload(app, await addDog(app), csv)).json()
    const url = `/api/sessions/${id}/edits`
    const report = async () => (await call(app, { url: `/api/sessions/${id}/report` })).body
    const before = await json<StoredSessionEdits>(app, url)
    const reportBefore = await report()
    let moved = 0
    await fc.assert(
      fc.asyncProperty(documents(anyDouble(34)), async (document) => {
        await put(app, url, document)
        expect(await json(app, `/api/sessions/${id}`)).toMatchObject({ state: 'finished', problem: null })
        if ((await report()) !== reportBefore) moved++
        await put(app, url, before)
        expect(await report()).toBe(reportBefore)
      }),
      { seed: 4713, numRuns: 5 },
    )
    // Guards the guard: the documents in between did something.
    expect(moved).toBeGreaterThan(2)
  })
})

describe('any body at all', () => {
  it.each(['edits', 'repetition-notes/n', 'check-in'])(
    'to %s is taken or refused in the client’s name',
    async (path) => {
      const app = await testApp()
      const url = `/api/sessions/${(await dogWithSession(app)).sessionId}/${path}`
      const known = [
        'marks',
        'holds',
        'id',
        'atS',
        'kind',
        'fromS',
        'toS',
        'signs',
        'note',
        'answer',
        'stance',
      ]
      const body = fc.dictionary(fc.constantFrom(...known), fc.jsonValue({ maxDepth: 2 }), { maxKeys: 6 })
      await fc.assert(
        fc.asyncProperty(body, async (payload) => {
          const { statusCode } = await change(app, 'PUT', url, '*', payload)
          expect([200, 400, 412, 422]).toContain(statusCode)
        }),
        { seed: 4714, numRuns: 100 },
      )
    },
  )
})
