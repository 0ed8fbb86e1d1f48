import { expect, it } from 'vitest'
import { formatTraceCsv } from '#signal/trace/format'
import { unzipped } from '../helpers/archive.ts'
import { addDog, call, testApp } from '../helpers/build-app.ts'
import { sessionTrace } from '../helpers/session-trace.ts'
import { upload } from '../helpers/upload.ts'

/** A name that would end a header, open a path, run as a formula and be a page. */
const NAME = '=1+1"; filename="../../x.html\u202e; é'
const FILE = "..\\..//etc/=cmd|' /C calc'!A0\"\u0000<script>.csv"

it('names that people give neither reach headers nor paths nor run in tables', async () => {
  const app = await testApp()
  const dogId = await addDog(app, NAME)
  const sent = await upload(app, dogId, formatTraceCsv(sessionTrace()), {}, FILE)
  expect(sent.statusCode).toBe(201)
  const { id, fileName } = sent.json<{ id: string; fileName: string }>()
  // Shown, and nothing else: no folders, no control characters.
  expect(fileName).not.toMatch(/[/\\]|\p{Cc}/u)
  for (const [url, type] of [
    [`/api/dogs/${dogId}/export.zip`, 'application/zip'],
    [`/api/dogs/${dogId}/fhir.json`, 'application/fhir+json'],
    [`/api/dogs/${dogId}/trends.csv`, 'text/csv'],
    [`/api/sessions/${id}/trace.csv`, 'text/csv'],
    [`/api/sessions/${id}/trace.edf`, 'application/octet-stream'],
  ]) {
    const { statusCode, headers } = await call(app, { method: 'GET', url })
    expect([url, statusCode]).toEqual([url, 200])
    // A token in quotes needs no escape and no filename* (RFC 6266 §4.1, RFC 9110 §5.6.4).
    expect(headers['content-disposition']).toMatch(/^attachment; filename="[A-Za-z0-9._-]+"$/)
    expect(headers['content-type']).toContain(type)
    expect(headers['x-content-type-options']).toBe('nosniff')
    expect(headers['cache-control']).toBe('no-store')
  }
  const zip = await call(app, { method: 'GET', url: `/api/dogs/${dogId}/export.zip` })
  const files = await unzipped(zip.rawPayload)
  for (const path of files.keys()) expect(path).toMatch(/^[A-Za-z0-9_-][A-Za-z0-9_./-]*$/)
  // OWASP, "CSV Injection": a cell that begins so is run by a spreadsheet.
  const tables = [...files].filter(([path]) => path.endsWith('.csv')).map(([, content]) => content.toString())
  tables.push((await call(app, { method: 'GET', url: `/api/dogs/${dogId}/trends.csv` })).body)
  expect(tables.length).toBeGreaterThan(2)
  for (const table of tables) expect(table).not.toMatch(/(^|,)"?[=@]/m)
})
